"""A file as it was read, with its faulty cells marked in place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from jobs.planning.cells import CellFinding, heading


@dataclass(frozen=True)
class Cell:
    column: str
    text: str
    faults: tuple[CellFinding, ...]


@dataclass(frozen=True)
class Line:
    """`other` are faults of the line that stand in none of its cells, such as a missing column."""

    number: int
    cells: tuple[Cell, ...]
    other: tuple[CellFinding, ...]

    @property
    def is_faulty(self) -> bool:
        return bool(self.other) or any(cell.faults for cell in self.cells)


def marked_rows(rows: Sequence[Mapping[str, str]], findings: Sequence[CellFinding]) -> list[Line]:
    by_line: dict[int, list[CellFinding]] = {}
    for finding in findings:
        by_line.setdefault(finding.line, []).append(finding)
    return [_line(number, row, by_line.get(number, [])) for number, row in enumerate(rows, start=2)]


def _line(number: int, row: Mapping[str, str], findings: Sequence[CellFinding]) -> Line:
    cells = tuple(
        Cell(name, text, tuple(finding for finding in findings if finding.column == heading(name)))
        for name, text in row.items()
    )
    named = {heading(name) for name in row}
    return Line(number, cells, tuple(finding for finding in findings if finding.column not in named))
