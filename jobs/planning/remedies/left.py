"""How many can still be had of what is listed to buy or hire in, once orders are taken off.

What is bought is gone from its seller for good, so all orders together count. What is hired in goes back and can then
be had again, so only what is with us on the same days counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Taken:
    """So many ordered, with us on the half-open days from `start` (now, where it is None) to `until` (for good)."""

    count: int
    start: date | None = None
    until: date | None = None

    def on(self, day: date) -> int:
        return self.count if (self.start or day) <= day < (self.until or date.max) else 0


@dataclass(frozen=True)
class Left:
    """Of `most`, None for any number, in all or, `at_once`, at any one time; `taken` are the orders not called off."""

    most: int | None
    at_once: bool
    taken: tuple[Taken, ...] = ()

    def between(self, start: date, until: date) -> int | None:
        """How many can be had for all of the half-open days; None for any number.

        >>> six = Left(6, True, (Taken(4, date(2027, 3, 1), date(2027, 3, 12)), Taken(3, date(2027, 3, 12))))
        >>> six.between(date(2027, 3, 1), date(2027, 3, 12)), six.between(date(2027, 2, 1), date(2027, 3, 1))
        (2, 6)
        """
        if self.most is None:
            return None
        days = [start, *(each.start for each in self.taken if each.start and start < each.start < until)]
        return max(0, self.most - max(self._taken_on(day) for day in days))

    def steps(self, today: date) -> Iterator[tuple[date, int]]:
        """(day, how many can be had on it) at today and each later day that changes it; none where any number can."""
        if self.most is None:
            return
        edges = {edge for each in self.taken for edge in (each.start, each.until) if edge and edge > today}
        before = None
        for day in sorted({today, *(edges if self.at_once else ())}):
            left = max(0, self.most - self._taken_on(day))
            if left != before:
                yield day, left
            before = left

    def _taken_on(self, day: date) -> int:
        return sum(each.on(day) if self.at_once else each.count for each in self.taken)
