"""The days of a pour: set, cast, strip, free, from the working calendar.

Its forms are set on working days before the cast. Cure runs in calendar time. They are stripped on the first
working day that the cure is over, then stripped and cleaned on working days, and are `free` on the first day
they may be set again: [set, free) are the days on which the pour holds its gear.
Cure and strip times are the engineer's to give, from the strength of the concrete: these only do the sums.

>>> from jobs.planning.pours import PourTimes, pour_days
>>> days = pour_days(date(2027, 3, 5), PourTimes(cure_hours=24), WorkingCalendar())   # cast on a Friday
>>> days.set.isoformat(), days.strip.isoformat(), days.free.isoformat()
('2027-03-04', '2027-03-08', '2027-03-09')
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from jobs.calendars.working import WorkingCalendar
from jobs.errors import Refused
from jobs.planning.findings import Finding, pour_words


@dataclass(frozen=True, slots=True)
class PourTimes:
    """How long each part takes. `set_days` working days before the cast (0: set on the day it is cast);
    `cure_hours` calendar hours from cast to strip, rounded up to whole days; `strip_days` working days to
    strip; `clean_days` further working days to clean (0: cleaned on the day it is stripped).
    `set_again_same_day` lets forms be set again on the day of stripping. Placeholders until set.
    """

    set_days: int = 1
    cure_hours: int = 24
    strip_days: int = 1
    clean_days: int = 0
    set_again_same_day: bool = False

    def __post_init__(self) -> None:
        if min(self.set_days, self.cure_hours, self.clean_days) < 0 or self.strip_days < 1:
            raise Refused("pour-times", "Give times of 0 or more, and at least one working day to strip.")


@dataclass(frozen=True, slots=True)
class PourDays:
    """First day of setting, day of casting, first day of stripping, first day free to set again."""

    set: date
    cast: date
    strip: date
    free: date

    @property
    def held(self) -> tuple[date, date]:
        """The half-open days [from, until) on which the pour holds its gear."""
        return self.set, self.free


def pour_days(cast: date, times: PourTimes, calendar: WorkingCalendar) -> PourDays:
    """The days of a pour cast on `cast`, which may be a day not otherwise worked."""
    eve = calendar.on_or_before(cast - timedelta(days=1))
    first = calendar.add(eve, 1 - times.set_days) if times.set_days > 1 else eve
    cured = cast + timedelta(days=-(-times.cure_hours // 24))
    strip = calendar.on_or_after(cured)
    busy = times.strip_days - 1 + times.clean_days
    free = calendar.add(strip, busy + (not times.set_again_same_day))
    return PourDays(first if times.set_days else cast, cast, strip, max(free, cast + timedelta(days=1)))


def check_cast_day(pour: str, cast: date, calendar: WorkingCalendar) -> list[Finding]:
    """A finding if the pour is on a day that is not worked: it may be meant."""
    if calendar.is_working(cast):
        return []
    sentence = f"{pour_words(pour)} is cast on {cast:%a} {cast.isoformat()}, which is not a working day."
    return [Finding("pour-day", sentence, f"pour {pour}")]
