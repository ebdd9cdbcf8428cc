"""A panel schedule as a file: CSV or XLSX into rows of cells by heading, as text."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Sequence
from datetime import date, datetime

from openpyxl import Workbook, load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from jobs.errors import Refused
from jobs.planning.schedule import COLUMNS

Rows = list[dict[str, str]]
MOST_BYTES = 4 * 1024 * 1024
MOST_ROWS = 5000


def read_rows(name: str, content: bytes) -> Rows:
    """Rows under the heading, which is the first line of the file; empty ones are kept, so that lines count.

    Raises Refused ("file-size", "file-kind", "file-text").
    """
    if len(content) > MOST_BYTES:
        raise Refused("file-size", "The file is larger than 4 MB: split the schedule.")
    lines = _xlsx(content) if name.lower().endswith((".xlsx", ".xlsm")) else _csv(content)
    if len(lines) > MOST_ROWS:
        raise Refused("file-size", f"The file has more than {MOST_ROWS} rows: split the schedule.")
    return _by_heading(lines)


def blank_template() -> bytes:
    """An XLSX with the headings and nothing else."""
    book = Workbook(write_only=True)
    book.create_sheet("panels").append(list(COLUMNS))
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def _csv(content: bytes) -> list[list[str]]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Refused("file-text", "The file is neither XLSX nor UTF-8 text: save it as one of them.") from None
    if "\x00" in text:
        raise Refused("file-kind", "This is not a CSV file: save the schedule as XLSX or as CSV.")
    first = text.splitlines()[0] if text.strip() else ""
    separator = max(",;\t", key=first.count)
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
    except csv.Error as fault:
        raise Refused("file-text", f"The CSV cannot be read: {fault}. Save it anew, or as XLSX.") from fault


def _xlsx(content: bytes) -> list[list[str]]:
    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        sheet = book.worksheets[0]
        return [[_cell(value) for value in row] for row in sheet.iter_rows(values_only=True, max_row=MOST_ROWS + 2)]
    except (InvalidFileException, zipfile.BadZipFile, KeyError, ValueError, IndexError, OSError) as fault:
        raise Refused("file-kind", "The file is not a readable XLSX workbook: save it anew as XLSX or CSV.") from fault


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


def _by_heading(lines: Sequence[Sequence[str]]) -> Rows:
    if not lines:
        return []
    names = _distinct(lines[0])
    rows = [dict(zip(names, [*line, *[""] * len(names)], strict=False)) for line in lines[1:]]
    while rows and not any(cell.strip() for cell in rows[-1].values()):
        rows.pop()
    return rows


def _distinct(heading: Iterable[str]) -> list[str]:
    """A heading that stands twice stays apart by a space after it, so that the second one can be told of."""
    names: list[str] = []
    for name in heading:
        while name in names:
            name += " "
        names.append(name)
    return names
