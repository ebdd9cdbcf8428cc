"""What a check of a file comes to: each row with its cells, its values, what is wrong with it, and what it would do."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from inventory.services.importing.columns import COLUMNS, Column, FileKind
from inventory.services.importing.files import Table


class Outcome(StrEnum):
    NEW = "new"
    CHANGED = "changed"
    SAME = "same"
    FAULTY = "faulty"


@dataclass(frozen=True, slots=True)
class CellFault:
    """Where and what. `column` is the heading as in the file; empty when the row as a whole is at fault."""

    line: int
    column: str
    sentence: str

    def __str__(self) -> str:
        where = f"Line {self.line}, {self.column}" if self.column else f"Line {self.line}"
        return f"{where}: {self.sentence}"


@dataclass(slots=True)
class CheckedRow:
    """`values` holds only the columns that the file has; an empty cell is None. `about` is what is on the books."""

    line: int
    cells: tuple[str, ...]
    values: dict[str, Any]
    faults: list[CellFault] = field(default_factory=list)
    outcome: Outcome = Outcome.NEW
    about: Any = None
    changes: tuple[str, ...] = ()

    def fault(self, column: str, sentence: str) -> None:
        self.faults.append(CellFault(self.line, column, sentence))


@dataclass(slots=True)
class Checked:
    kind: FileKind
    headings: tuple[str, ...]
    rows: list[CheckedRow]
    faults: list[CellFault] = field(default_factory=list)

    @property
    def counts(self) -> Counter[Outcome]:
        return Counter(row.outcome for row in self.rows)

    @property
    def all_faults(self) -> list[CellFault]:
        return [*self.faults, *(fault for row in self.rows for fault in row.faults)]

    @property
    def can_be_taken(self) -> bool:
        counts = self.counts
        return not self.all_faults and bool(counts[Outcome.NEW] + counts[Outcome.CHANGED])


def normal(heading: str) -> str:
    return " ".join(heading.lower().replace("_", " ").replace("’", "'").split())


def read_cells(kind: FileKind, table: Table) -> Checked:
    """Every cell by its column's reader; nothing is looked up yet."""
    columns = {normal(column.heading): column for column in COLUMNS[kind]}
    at = {index: columns[normal(text)] for index, text in enumerate(table.headings) if normal(text) in columns}
    checked = Checked(kind, table.headings, [], list(_about_headings(kind, table.headings, at)))
    if not checked.faults:
        checked.rows = [_checked(row.line, row.cells, at, table.decimal_comma) for row in table.rows]
    return checked


def _about_headings(kind: FileKind, headings: Sequence[str], at: dict[int, Column]) -> list[CellFault]:
    found = [column.heading for column in at.values()]
    known = ", ".join(column.heading for column in COLUMNS[kind])
    faults = [
        CellFault(1, text or f"column {index + 1}", f"No such column. The columns of {kind.value} are: {known}.")
        for index, text in enumerate(headings)
        if index not in at
    ]
    faults += [
        CellFault(1, name, "This column is there twice: keep one.") for name in set(found) if found.count(name) > 1
    ]
    missing = [column.heading for column in COLUMNS[kind] if column.required and column.heading not in found]
    faults += [CellFault(1, name, "This column is missing: add it, or start from the template.") for name in missing]
    return faults


def _checked(line: int, cells: tuple[str, ...], at: dict[int, Column], comma: bool) -> CheckedRow:
    row = CheckedRow(line, cells, {})
    for index, column in at.items():
        said = cells[index] if index < len(cells) else ""
        try:
            row.values[column.key] = column.reader(said, comma) if said else None
        except ValueError as wrong:
            row.values[column.key] = None
            row.fault(column.heading, f"{_first_up(str(wrong))}".rstrip(".") + ".")
        if column.required and not said:
            row.fault(column.heading, "Empty, and needed: fill it in.")
    beyond = [cell for cell in cells[max(at, default=-1) + 1 :] if cell]
    if beyond:
        row.fault("", f"“{beyond[0]}” stands beyond the last column: the row is broken or has a separator too many.")
    return row


def _first_up(text: str) -> str:
    return text[:1].upper() + text[1:]
