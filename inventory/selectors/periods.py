"""Stretches of months, as the figures are asked for."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from typing import NamedTuple

from django.utils import timezone


class Period(NamedTuple):
    """[first, after): `first` the first of a month; `after` likewise, or tomorrow in a month that is not over."""

    first: date
    after: date

    @property
    def days(self) -> int:
        return (self.after - self.first).days

    @property
    def months(self) -> list[date]:
        found = [self.first]
        while (after := month_after(found[-1])) < self.after:
            found.append(after)
        return found


def month_after(day: date, months: int = 1) -> date:
    """The first of the month so many months after the one of `day`.

    >>> month_after(date(2026, 12, 15))
    datetime.date(2027, 1, 1)
    """
    number = day.year * 12 + day.month - 1 + months
    return date(number // 12, number % 12 + 1, 1)


def month_end(month: date) -> datetime:
    """When a month is over in the yard, in UTC, so that times to it are as a clock runs, whatever the season."""
    zone = timezone.get_current_timezone()
    return datetime.combine(month_after(month), time(), zone).astimezone(UTC)
