"""A CSV or XLSX file as rows of text, each with the line it stood on."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from inventory.errors import Refused

MOST_BYTES = 8 * 1024 * 1024
MOST_UNPACKED = 200 * 1024 * 1024
MOST_ROWS = 20_000
_FORMULA_STARTS = ("=", "+", "-", "@")


@dataclass(frozen=True, slots=True)
class Row:
    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """Headings, rows that are not empty, and whether 12,5 means twelve and a half (a file parted by semicolons)."""

    headings: tuple[str, ...]
    rows: tuple[Row, ...]
    decimal_comma: bool = False


def read_table(name: str, content: bytes) -> Table:
    """The first sheet of an XLSX, or a CSV in UTF-8 or Windows-1252, parted by commas, semicolons or tabs.

    Refused: file-empty, file-large, file-rows, file-kind, file-broken.
    """
    if not content.strip():
        raise Refused("file-empty", "The file is empty. Fill in the template and bring it again.")
    if len(content) > MOST_BYTES:
        raise Refused("file-large", f"The file is larger than {MOST_BYTES // 2**20} MB. Split it into several.")
    if content.startswith(b"PK") or name.lower().endswith((".xlsx", ".xlsm")):
        return _table(_xlsx_rows(content))
    if content.startswith((b"\xd0\xcf\x11\xe0", b"%PDF", b"\x89PNG", b"\xff\xd8")) or b"\x00" in content[:4000]:
        raise Refused("file-kind", f"“{name}” is neither CSV nor XLSX. Save the sheet as one of these.")
    text = _decoded(content)
    separator = _separator(text)
    return _table(_csv_rows(text, separator), decimal_comma=separator == ";")


def _decoded(content: bytes) -> str:
    """Windows-1252 has a character for nearly every byte, so it is what is left when the text is not UTF-8."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def _separator(text: str) -> str:
    heading = text.split("\n", 1)[0]
    return max(",;\t", key=heading.count)


def _csv_rows(text: str, separator: str) -> Iterator[Row]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    line = 1
    try:
        for cells in reader:
            yield Row(line, tuple(_clean(cell) for cell in cells))
            line = reader.line_num + 1
    except csv.Error as error:
        raise Refused(
            "file-broken", f"Line {line} cannot be read ({error}): look for a stray quotation mark."
        ) from None


def _xlsx_rows(content: bytes) -> Iterator[Row]:
    try:
        unpacked = sum(part.file_size for part in zipfile.ZipFile(io.BytesIO(content)).infolist())
        if unpacked > MOST_UNPACKED:
            raise Refused("file-large", "The workbook unpacks to more than 200 MB. Keep only the sheet to bring in.")
        values, formulas = (
            load_workbook(io.BytesIO(content), read_only=True, data_only=ready)
            .worksheets[0]
            .iter_rows(values_only=True)
            for ready in (True, False)
        )
        for line, (known, written) in enumerate(zip(values, formulas, strict=False), start=1):
            yield Row(line, tuple(_said(a, b) for a, b in zip(known, written, strict=False)))
    except (InvalidFileException, zipfile.BadZipFile, KeyError, ValueError, IndexError, OSError) as error:
        raise Refused("file-broken", "The workbook cannot be opened. Save it anew as XLSX, or as CSV.") from error


def _said(known: Any, written: Any) -> str:
    """A cell as text. A formula that was never worked out stays visible, so that it is found to be at fault."""
    value = written if known is None else known
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == datetime.min.time() else value.isoformat(sep=" ")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else repr(value)
    return _clean(str(value))


def _clean(text: str) -> str:
    """Without space around it, and without the apostrophe our own export puts before what looks like a formula."""
    text = text.strip().replace("\xa0", " ")
    return text[1:] if text.startswith("'") and text[1:].startswith(_FORMULA_STARTS) else text


def _table(rows: Iterator[Row], *, decimal_comma: bool = False) -> Table:
    kept: list[Row] = []
    for row in rows:
        if any(row.cells):
            kept.append(row)
        if len(kept) > MOST_ROWS + 1:
            raise Refused("file-rows", f"More than {MOST_ROWS:,} rows. Split the file into several.")
    if not kept:
        raise Refused("file-empty", "The file is empty. Fill in the template and bring it again.")
    return Table(_trimmed(kept[0].cells), tuple(kept[1:]), decimal_comma)


def _trimmed(cells: Sequence[str]) -> tuple[str, ...]:
    ends = max((at + 1 for at, cell in enumerate(cells) if cell), default=0)
    return tuple(cells[:ends])
