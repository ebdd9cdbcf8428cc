"""A panel schedule: rows of cells into panels and pours, with every faulty cell said at once.

Columns: mark, width, height, thickness, section, stack, level, pour date, pour, quantity, offset x, offset y,
quarter turn, outline, openings. Only mark and thickness, and either width and height or outline, are needed.
A section not given is the thickness; a pour not named is its date; a stack not named is the panel's own.
A row of several alike is several panels, marked A1/1, A1/2 ...; where it names a stack they lie in as many
stacks, S/1, S/2 ..., since panels of one stack are not cast on the same day.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TypeVar

from jobs.errors import Refused
from jobs.planning.cells import CellFinding, Fault, day, heading, whole
from jobs.planning.findings import pour_words
from jobs.planning.outline import CLOSES_WITHIN_MM, Outline, rectangle
from jobs.planning.outline_text import parse_openings, parse_outline
from jobs.planning.panels import Panel, check_openings

COLUMNS = (
    "mark",
    "width",
    "height",
    "thickness",
    "section",
    "stack",
    "level",
    "pour date",
    "pour",
    "quantity",
    "offset x",
    "offset y",
    "quarter turn",
    "outline",
    "openings",
)
LEAST_SIDE_MM, GREATEST_SIDE_MM = 100, 40_000
LEAST_THICKNESS_MM, GREATEST_THICKNESS_MM = 50, 600
LONGEST_MARK = 40
MOST_ALIKE = 500
HIGHEST_LEVEL = 20
T = TypeVar("T")

TURNS = {0: 0, 1: 1, 2: 2, 3: 3, 90: 1, 180: 2, 270: 3}


@dataclass(frozen=True)
class Schedule:
    """Panels, the day of casting of each pour that has one, and every faulty cell. `lines` says which line
    of the file each panel came from, by mark."""

    panels: tuple[Panel, ...]
    casts: Mapping[str, date]
    findings: tuple[CellFinding, ...]
    lines: Mapping[str, int]


class _Row:
    """One row being read: a bad cell is noted and reading goes on."""

    def __init__(self, line: int, cells: Mapping[str, str]) -> None:
        self.line = line
        self.cells = cells
        self.findings: list[CellFinding] = []

    def text(self, column: str) -> str:
        return self.cells.get(column, "").strip()

    def note(self, column: str, wrong: str, remedy: str) -> None:
        self.findings.append(CellFinding(self.line, column, wrong, remedy))

    def read(self, column: str, reader: Callable[[str], T], default: T) -> T:
        text = self.text(column)
        if not text:
            return default
        try:
            return reader(text)
        except Fault as fault:
            self.note(column, fault.wrong, fault.remedy)
        except Refused as refused:
            self.note(column, refused.sentence, "Correct this cell.")
        return default

    def whole(self, column: str, bounds: tuple[int, int], what: str, default: int = 0) -> int:
        return self.read(column, lambda text: whole(text, *bounds, what), default)


def parse_schedule(rows: Sequence[Mapping[str, str]], first_line: int = 2) -> Schedule:
    """Panels from rows of cells by heading. Faulty rows give no panel; every fault of every row is listed.

    >>> found = parse_schedule([
    ...     {"Mark": "A1", "Width": "6000", "Height": "3000", "Thickness": "150", "Pour date": "2027-03-05"},
    ...     {"Mark": "A2", "Width": "6 m", "Height": "3000", "Thickness": "150"}])
    >>> [panel.mark for panel in found.panels], found.findings[0].line, found.findings[0].column
    (['A1'], 3, 'width')
    """
    panels: list[Panel] = []
    findings = check_headings(rows)
    lines: dict[str, int] = {}
    days: dict[str, dict[date, int]] = defaultdict(dict)
    for line, cells in enumerate(rows, start=first_line):
        row = _Row(line, {heading(name): str(text or "") for name, text in cells.items()})
        if not any(row.cells.values()):
            continue
        if beyond := " ".join(str(text) for name, text in cells.items() if text and not heading(name)):
            wrong = f"{beyond!r} stands under no heading."
            row.note("", wrong, "Give its column a heading, or look for a comma that needs quotation marks round it.")
        made = _read_row(row)
        _note_repeats(row, made, lines)
        findings += row.findings
        if not row.findings:
            panels += made
            lines |= {panel.mark: line for panel in made}
            _note_day(row, days)
    findings += _check_days(days)
    casts = {pour: min(found) for pour, found in days.items()}
    return Schedule(tuple(panels), casts, tuple(sorted(findings)), lines)


def check_headings(rows: Sequence[Mapping[str, str]]) -> list[CellFinding]:
    """Findings on headings that are missing, repeated or not known."""
    if not rows:
        return [CellFinding(1, "", "The schedule has no rows.", "Give one row for each panel, under a heading.")]
    names = [heading(name) for name in rows[0]]
    found = [
        CellFinding(1, name, f"There is no column {name!r}.", "Add it; the blank template has every column.")
        for name in ("mark", "thickness")
        if name not in names
    ]
    found += [
        CellFinding(1, name, f"Column {name!r} is there twice.", "Keep one.")
        for name in sorted({name for name in names if name and names.count(name) > 1})
    ]
    return found + [
        CellFinding(
            1,
            name,
            f"Column {name!r} is not known.",
            f"Rename or delete it; known are: {', '.join(COLUMNS)}.",
        )
        for name in names
        if name not in COLUMNS and name
    ]


def _read_row(row: _Row) -> list[Panel]:
    mark = row.read("mark", _mark, "")
    if not row.text("mark"):
        row.note("mark", "The panel has no mark.", "Give each panel a mark, such as A1.")
    shape = _read_outline(row)
    thickness = row.whole("thickness", (LEAST_THICKNESS_MM, GREATEST_THICKNESS_MM), "a thickness in mm")
    if not row.text("thickness"):
        row.note("thickness", "The panel has no thickness.", "Give its thickness in mm, such as 150.")
    section = row.whole("section", (LEAST_THICKNESS_MM, GREATEST_THICKNESS_MM), "a section in mm")
    quantity = row.whole("quantity", (1, MOST_ALIKE), "how many are alike", 1)
    cast = row.read("pour date", day, None)
    panel = Panel(
        mark=mark,
        outline=shape or rectangle(GREATEST_SIDE_MM, GREATEST_SIDE_MM),
        thickness_mm=thickness,
        stack=row.text("stack"),
        level=row.whole("level", (1, HIGHEST_LEVEL), "a level in the stack, 1 at the bottom", 1),
        pour=row.text("pour") or (cast.isoformat() if cast else ""),
        section_given_mm=section or None,
        offset=(_offset(row, "offset x"), _offset(row, "offset y")),
        quarter_turns=row.read("quarter turn", _quarter_turns, 0),
        openings=row.read("openings", parse_openings, ()),
    )
    if shape is None:
        return []
    for finding in check_openings(panel):
        row.note("openings", finding.sentence, "Correct its place or its size.")
    return [panel] if quantity == 1 else [_copy(panel, number) for number in range(1, quantity + 1)]


def _read_outline(row: _Row) -> Outline | None:
    shape = row.read("outline", parse_outline, None)
    size = (LEAST_SIDE_MM, GREATEST_SIDE_MM)
    width, height = row.whole("width", size, "a width in mm"), row.whole("height", size, "a height in mm")
    if row.text("outline"):
        _check_size(row, shape, width, height)
        return shape
    for column in ("width", "height"):
        if not row.text(column):
            row.note(column, f"The panel has no {column}.", "Give width and height in mm, or an outline.")
    return rectangle(width, height) if width and height else None


def _check_size(row: _Row, shape: Outline | None, width: int, height: int) -> None:
    if shape is None:
        return
    for column, given, drawn in (("width", width, shape.width_mm), ("height", height, shape.height_mm)):
        if given and abs(given - drawn) > CLOSES_WITHIN_MM:
            wrong = f"The {column} is {given} mm, the outline's is {drawn:.0f} mm."
            row.note(column, wrong, f"Correct one of them, or leave {column} empty.")


def _mark(text: str) -> str:
    if len(text) > LONGEST_MARK:
        raise Fault(f"The mark has {len(text)} characters.", f"Give one of at most {LONGEST_MARK}.")
    return text


def _offset(row: _Row, column: str) -> int:
    return row.whole(column, (-GREATEST_SIDE_MM, GREATEST_SIDE_MM), "an offset in mm from centred")


def _quarter_turns(text: str) -> int:
    yes_no = {"yes": 1, "y": 1, "no": 0, "n": 0}
    if text.strip().lower() in yes_no:
        return yes_no[text.strip().lower()]
    value = whole(text.strip().rstrip("°"), 0, 270, "quarter turns (0 to 3) or degrees (0, 90, 180, 270)")
    if value not in TURNS:
        raise Fault(f"{value} is not a quarter turn.", "Give 0 to 3, or 0, 90, 180 or 270 degrees.")
    return TURNS[value]


def _copy(panel: Panel, number: int) -> Panel:
    stack = f"{panel.stack}/{number}" if panel.stack else ""
    return replace(panel, mark=f"{panel.mark}/{number}", stack=stack)


def _note_repeats(row: _Row, made: Sequence[Panel], lines: Mapping[str, int]) -> None:
    for panel in made:
        if panel.mark in lines:
            wrong = f"Mark {panel.mark} is already on line {lines[panel.mark]}."
            row.note("mark", wrong, "Give each panel its own mark, or one row with a quantity.")
            return


def _note_day(row: _Row, days: dict[str, dict[date, int]]) -> None:
    if row.text("pour date"):
        cast = day(row.text("pour date"))
        days[row.text("pour") or cast.isoformat()].setdefault(cast, row.line)


def _check_days(days: Mapping[str, Mapping[date, int]]) -> list[CellFinding]:
    found = []
    for pour, lines in days.items():
        first, *others = lines.items()
        found += [
            CellFinding(
                line,
                "pour date",
                f"{pour_words(pour)} is cast on {cast.isoformat()} here and {first[0].isoformat()} on line {first[1]}.",
                "Give a pour one date, or make them two pours.",
            )
            for cast, line in others
        ]
    return found
