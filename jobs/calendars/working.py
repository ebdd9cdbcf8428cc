"""Working days: which days the yard and the site work, and arithmetic on them.

A calendar is seven weekdays, Monday first, with holidays taken out and extra days put in. Spans are
half-open days [from, until), so that the working days of two spans that touch add up.

>>> easter = WorkingCalendar(holidays=frozenset({date(2026, 4, 3), date(2026, 4, 6)}))
>>> easter.add(date(2026, 4, 2), 1)
datetime.date(2026, 4, 7)
>>> easter.count(date(2026, 4, 1), date(2026, 5, 1))
20
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

from jobs.errors import Refused

DAY = timedelta(days=1)
MONDAY_TO_FRIDAY = "1111100"
LONGEST_SEARCH_DAYS = 3660


@dataclass(frozen=True)
class WorkingCalendar:
    """`weekdays` is seven characters, Monday first, 1 for a day worked (the mask numpy's busday uses).

    A day in `extra` is worked whatever its weekday and even if it is a holiday. Raises Refused
    ("no-working-days" or "weekdays") on a mask that is not seven of 0 and 1 or never works.
    """

    weekdays: str = MONDAY_TO_FRIDAY
    holidays: frozenset[date] = frozenset()
    extra: frozenset[date] = frozenset()

    def __post_init__(self) -> None:
        if len(self.weekdays) != 7 or set(self.weekdays) - {"0", "1"}:
            raise Refused("weekdays", "Give the working week as seven of 0 and 1, Monday first, such as 1111100.")
        if "1" not in self.weekdays:
            raise Refused("no-working-days", "The working week has no day worked: mark at least one.")

    def is_working(self, day: date) -> bool:
        """Whether `day` is worked."""
        if day in self.extra:
            return True
        return self.weekdays[day.weekday()] == "1" and day not in self.holidays

    def on_or_after(self, day: date) -> date:
        """The first working day that is not before `day`."""
        return next(self._working_from(day, DAY))

    def on_or_before(self, day: date) -> date:
        """The last working day that is not after `day`."""
        return next(self._working_from(day, -DAY))

    def add(self, day: date, days: int) -> date:
        """The working day `days` working days after `day` (before it when negative).

        A day not worked first moves on to the next working day (back to the last one when `days` is
        negative), as numpy.busday_offset does with roll "forward" ("backward").
        """
        step = DAY if days >= 0 else -DAY
        search = self._working_from(day, step)
        for _ in range(abs(days)):
            next(search)
        return next(search)

    def count(self, start: date, until: date) -> int:
        """How many working days there are in [start, until); negative when `until` is before `start`."""
        if until < start:
            return -self.count(until, start)
        weeks, rest = divmod((until - start).days, 7)
        first = start.weekday()
        worked = weeks * self.weekdays.count("1")
        worked += sum(self.weekdays[(first + offset) % 7] == "1" for offset in range(rest))
        return worked - _within(self._lost, start, until) + _within(self._gained, start, until)

    @cached_property
    def _lost(self) -> list[date]:
        return sorted(day for day in self.holidays - self.extra if self.weekdays[day.weekday()] == "1")

    @cached_property
    def _gained(self) -> list[date]:
        return sorted(day for day in self.extra if self.weekdays[day.weekday()] == "0")

    def _working_from(self, day: date, step: timedelta) -> Iterator[date]:
        idle = 0
        while idle < LONGEST_SEARCH_DAYS:
            if self.is_working(day):
                idle = 0
                yield day
            else:
                idle += 1
            day += step
        raise Refused("no-working-days", f"No working day within ten years of {day}: check the holidays.")


def _within(days: list[date], start: date, until: date) -> int:
    return bisect_left(days, until) - bisect_left(days, start)
