"""A day as people write it, where it can be read in one way only.

>>> read_day("31/3/2027"), read_day("5.3.2027"), read_day("5 March 2027")
(datetime.date(2027, 3, 31), datetime.date(2027, 3, 5), datetime.date(2027, 3, 5))
>>> read_day("05/03/2027")
Traceback (most recent call last):
inventory.written.NotOneDay: can be read in two ways: write 2027-03-05 or 2027-05-03
"""

from __future__ import annotations

import re
from datetime import date, datetime

_YEAR_FIRST = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]0?0:00(?::00(?:\.0+)?)?)?")
_DOTTED = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})")
_SLASHED = re.compile(r"(\d{1,2})[/-](\d{1,2})[/-](\d{4})")
_NAMED = ("%d %b %Y", "%d %B %Y", "%d-%b-%Y")
USUAL = "write year-month-day, such as 2027-03-31"


class NotOneDay(ValueError):
    """Why the text is not one day, and what to write."""

    def __init__(self, why: str, remedy: str) -> None:
        super().__init__(f"{why}: {remedy}")
        self.why = why
        self.remedy = f"{remedy[0].upper()}{remedy[1:]}."


def read_day(text: str) -> date:
    """The day. Year first, or day first with points or the month's English name; with strokes only where one of the
    two cannot be a month. Raises NotOneDay."""
    said = text.strip()
    if found := _YEAR_FIRST.fullmatch(said):
        return _only(_days((found[1], found[2], found[3])))
    if found := _DOTTED.fullmatch(said):
        return _only(_days((found[3], found[2], found[1])))
    if found := _SLASHED.fullmatch(said):
        return _only(_days((found[3], found[2], found[1]), (found[3], found[1], found[2])))
    for form in _NAMED:
        try:
            return datetime.strptime(said, form).date()  # noqa: DTZ007  (a day has no zone)
        except ValueError:
            continue
    raise NotOneDay("is not a date", USUAL)


def _days(*readings: tuple[str, str, str]) -> list[date]:
    """The days of the calendar among some readings, each year, month, day."""
    found = []
    for year, month, day in readings:
        try:
            found.append(date(int(year), int(month), int(day)))
        except ValueError:
            continue
    return list(dict.fromkeys(found))


def _only(days: list[date]) -> date:
    if not days:
        raise NotOneDay("is not a day of the calendar", USUAL)
    if len(days) > 1:
        both = " or ".join(day.isoformat() for day in sorted(days))
        raise NotOneDay("can be read in two ways", f"write {both}")
    return days[0]
