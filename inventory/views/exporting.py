"""What a list shows, as CSV or XLSX, row by row so that 100,000 rows do not have to fit in memory at once."""

from __future__ import annotations

import csv
import datetime as dt
import re
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from typing import Any

from django.http import FileResponse, StreamingHttpResponse
from django.utils import timezone
from openpyxl import Workbook

_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def neutralised(value: Any) -> Any:
    """Text that a spreadsheet would run as a formula gets an apostrophe before it; numbers stay numbers.

    >>> neutralised("=1+1"), neutralised("-12.5"), neutralised("yard"), neutralised(None)
    ("'=1+1", '-12.5', 'yard', '')
    """
    if value is None:
        return ""
    if isinstance(value, bool | int | float | Decimal | dt.date | dt.time):
        return _plain_time(value)
    text = str(value)
    if text.startswith(_FORMULA_STARTS) and not _NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def _plain_time(value: Any) -> Any:
    """Spreadsheets know no time zones: local time, and the second is as fine as it gets."""
    if isinstance(value, dt.datetime):
        local = timezone.localtime(value) if timezone.is_aware(value) else value
        return local.replace(tzinfo=None, microsecond=0)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value


class _Echo:
    """A file that hands back each line instead of keeping it."""

    def write(self, line: str) -> str:
        return line


def csv_response(rows: Iterable[Sequence[Any]], name: str) -> StreamingHttpResponse:
    """UTF-8 with a mark, so that spreadsheets read accents rightly."""
    writer = csv.writer(_Echo())

    def lines() -> Iterator[str]:
        yield "\ufeff"
        for row in rows:
            yield writer.writerow([neutralised(cell) for cell in row])

    response = StreamingHttpResponse(lines(), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return response


def xlsx_response(rows: Iterable[Sequence[Any]], name: str) -> FileResponse:
    book = Workbook(write_only=True)
    sheet = book.create_sheet(name[:31])
    for row in rows:
        sheet.append([neutralised(cell) for cell in row])
    file = tempfile.TemporaryFile()  # noqa: SIM115  (FileResponse closes it when it is sent)
    book.save(file)
    file.seek(0)
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    return FileResponse(file, as_attachment=True, filename=f"{name}.xlsx", content_type=kind)
