"""Which days matter: the periods in which nothing changes, and of those the ones that are not contained.

Between one change (a run starting or ending, stock stepping) and the next nothing changes, so days fold
into periods. A period whose runs are all active in another period asks for no more than that one does; the
ones left are the maximal overlaps. Where stock steps, a contained period still matters to a type that has
less on hand then. Intervals are half-open, so an end at a boundary frees before a start takes.
Fact used: the least number of identical pieces for a set of intervals is their greatest overlap
(Kleinberg & Tardos, Algorithm Design, 4.1, interval partitioning).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Periods:
    """`days[k]` is the first day of period k, which lasts to the first day of the next.

    Every run that is active in period k is also active from period `first[k]` to period `last[k]`, and no
    further. Periods in which nothing is active are left out.
    """

    days: tuple[date, ...]
    first: tuple[int, ...]
    last: tuple[int, ...]

    @classmethod
    def of(cls, spans: Sequence[tuple[date, date]], changes: Iterable[date] = ()) -> Periods:
        """Periods of half-open day spans; `changes` are further days on which something changes."""
        days = sorted({day for span in spans for day in span} | set(changes))
        place = {day: k for k, day in enumerate(days)}
        first, last = [-1] * len(days), [len(days)] * len(days)
        for start, until in spans:
            for k in range(place[start], place[until]):
                first[k] = max(first[k], place[start])
                last[k] = min(last[k], place[until] - 1)
        active = [k for k in range(len(days)) if first[k] >= 0]
        at = {k: n for n, k in enumerate(active)}
        return cls(
            days=tuple(days[k] for k in active),
            first=tuple(at[first[k]] for k in active),
            last=tuple(at[last[k]] for k in active),
        )

    def maximal(self) -> list[int]:
        """The periods whose runs are not all active in another; of equal ones the first."""
        return self.needed([0] * len(self.days))

    def needed(self, on_hand: Sequence[int]) -> list[int]:
        """The periods to watch for a type with `on_hand[k]` in period k: no other asks more of less."""
        return [k for k in range(len(self.days)) if not self._outdone(k, on_hand)]

    def _outdone(self, period: int, on_hand: Sequence[int]) -> bool:
        for other in range(self.first[period], self.last[period] + 1):
            if other == period or on_hand[other] > on_hand[period]:
                continue
            equal = self.first[other] <= period <= self.last[other]
            if on_hand[other] < on_hand[period] or not equal or other < period:
                return True
        return False


def most_at_once(spans: Sequence[tuple[date, date]]) -> int:
    """The greatest number of half-open spans that hold one day in common.

    >>> day = lambda n: date(2027, 3, n)
    >>> most_at_once([(day(1), day(4)), (day(4), day(7)), (day(3), day(5))])
    2
    """
    changes = sorted([(start, 1) for start, _ in spans] + [(until, -1) for _, until in spans])
    now = most = 0
    for _, change in changes:
        now += change
        most = max(most, now)
    return most
