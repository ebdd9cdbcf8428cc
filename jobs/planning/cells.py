"""Cells of a table as people write them, read into values; a fault says what is wrong and what to do.

A reader takes the text of a cell and returns its value or raises `Fault`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

_WHOLE = re.compile(r"([+-]?\d+)(?:\.0+)?(?:\s*mm)?")
_DATE = re.compile(r"(\d{4}-\d{2}-\d{2})(?:[T ]00:00(?::00(?:\.0+)?)?)?")


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
    found = _WHOLE.fullmatch(text.strip().replace("\N{NO-BREAK SPACE}", ""))
    remedy = f"Give {what}, from {least} to {greatest}."
    if not found:
        raise Fault(f"{text!r} is not a whole number.", remedy)
    value = int(found[1])
    if not least <= value <= greatest:
        raise Fault(f"{value} is out of bounds.", remedy)
    return value


def day(text: str) -> date:
    """A date written as 2027-03-05. Other ways of writing one are refused, since 05/03 is two days.

    >>> day("2027-03-05 00:00:00")
    datetime.date(2027, 3, 5)
    """
    found = _DATE.fullmatch(text.strip())
    remedy = "Write year-month-day, such as 2027-03-05."
    if not found:
        raise Fault(f"{text!r} is not a date that can only be read one way.", remedy)
    try:
        return date.fromisoformat(found[1])
    except ValueError:
        raise Fault(f"{text!r} is not a day of the calendar.", remedy) from None


def heading(text: str) -> str:
    """A column's heading as it is compared: lower case, spaces for dashes and underscores.

    >>> heading("Pour_Date "), heading("Offset  X")
    ('pour date', 'offset x')
    """
    return " ".join(re.sub(r"[_\-]", " ", text).lower().split())
