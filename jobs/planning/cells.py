"""Cells of a table as people write them, read into values; a fault says what is wrong and what to do.

A reader takes the text of a cell and returns its value or raises `Fault`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from inventory.written import NotOneDay, read_day

_WHOLE = re.compile(r"([+-]?\d+)(?:\.0+)?(?:\s*mm)?")
_IN_THREES = re.compile(r"[+-]?\d{1,3}(?:[.,' ]\d{3})+(?:\s*mm)?")


class Fault(Exception):
    """What is wrong with a cell and what to do."""

    def __init__(self, wrong: str, remedy: str) -> None:
        super().__init__(f"{wrong} {remedy}")
        self.wrong = wrong
        self.remedy = remedy


@dataclass(frozen=True, slots=True, order=True)
class CellFinding:
    """A faulty cell: its line in the file (the heading is line 1), its column, what is wrong, what to do."""

    line: int
    column: str
    wrong: str
    remedy: str


def whole(text: str, least: int, greatest: int, what: str) -> int:
    """A whole number within bounds.

    >>> whole("6000.0", 100, 30000, "a width in mm")
    6000
    >>> whole("6.5", 100, 30000, "a width in mm")
    Traceback (most recent call last):
    jobs.planning.cells.Fault: '6.5' is not a whole number. Give a width in mm, from 100 to 30000.
    """
    bare = text.strip().replace("\N{NO-BREAK SPACE}", " ")
    remedy = f"Give {what}, from {least} to {greatest}."
    if _IN_THREES.fullmatch(bare):
        raise Fault(f"{text!r} can be read in two ways.", f"{remedy} Write figures only, such as 6000.")
    found = _WHOLE.fullmatch(bare)
    if not found:
        raise Fault(f"{text!r} is not a whole number.", remedy)
    value = int(found[1])
    if not least <= value <= greatest:
        raise Fault(f"{value} is out of bounds.", remedy)
    return value


def day(text: str) -> date:
    """A date in any way of writing it that can only be read one way; 05/03 is two days, so it is refused.

    >>> day("2027-03-05 00:00:00"), day("31/3/2027")
    (datetime.date(2027, 3, 5), datetime.date(2027, 3, 31))
    """
    try:
        return read_day(text)
    except NotOneDay as wrong:
        raise Fault(f"{text!r} {wrong.why}.", wrong.remedy) from None


def heading(text: str) -> str:
    """A column's heading as it is compared: lower case, spaces for dashes and underscores.

    >>> heading("Pour_Date "), heading("Offset  X")
    ('pour date', 'offset x')
    """
    return " ".join(re.sub(r"[_\-]", " ", text).lower().split())
