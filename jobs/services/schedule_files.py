"""A panel schedule as a file: CSV or XLSX into rows of cells by heading, as text."""

from __future__ import annotations

import io
from collections.abc import Iterable

from openpyxl import Workbook

from inventory.errors import Refused as Unreadable
from inventory.services.importing.files import Row, Table, read_table
from jobs.errors import Refused
from jobs.planning.schedule import COLUMNS

Rows = list[dict[str, str]]
MOST_ROWS = 5000


def read_rows(name: str, content: bytes) -> Rows:
    """Rows under the heading; row i stands on line i + 2 of the file, so empty lines are kept as empty rows.

    Raises Refused with the code of what is wrong with the file ("file-kind", "file-broken", "file-rows", ...).
    """
    try:
        table = read_table(name, content)
    except Unreadable as fault:
        raise Refused(fault.code, fault.sentence) from fault
    if len(table.rows) > MOST_ROWS:
        raise Refused("file-rows", f"The file has more than {MOST_ROWS:,} rows: split the schedule.")
    return _by_heading(table)


def blank_template() -> bytes:
    """An XLSX with the headings and nothing else."""
    book = Workbook(write_only=True)
    book.create_sheet("panels").append(list(COLUMNS))
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def _by_heading(table: Table) -> Rows:
    """Cells beyond the last heading are kept under an empty one, so that they are told of."""
    width = len(table.headings)
    wider = any(_beyond(row, width) for row in table.rows)
    names = _distinct([*table.headings, ""] if wider else table.headings)
    rows: Rows = []
    for row in table.rows:
        while len(rows) < row.line - 2:
            rows.append(dict.fromkeys(names, ""))
        cells = [*row.cells[:width], *[""] * (width - len(row.cells)), _beyond(row, width)]
        rows.append(dict(zip(names, cells, strict=False)))
    return rows


def _beyond(row: Row, width: int) -> str:
    return " ".join(cell for cell in row.cells[width:] if cell)


def _distinct(headings: Iterable[str]) -> list[str]:
    """A heading that stands twice stays apart by a space after it, so that the second one can be told of."""
    names: list[str] = []
    for name in headings:
        while name in names:
            name += " "
        names.append(name)
    return names
