"""How long a queue takes: J. D. C. Little's law, L = lambda x W."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta


@dataclass(frozen=True, slots=True)
class Wait:
    """`waiting` pieces, done at `pace` a working day; `days` until the last of them is done at that pace."""

    waiting: int
    pace: float
    days: float | None


def wait(waiting: int, done: int, days_worked: int) -> Wait:
    """How long what waits would take at the pace measured over so many days worked; no pace, no answer.

    >>> wait(120, 400, 10)
    Wait(waiting=120, pace=40.0, days=3.0)
    """
    pace = done / days_worked if days_worked > 0 else 0.0
    return Wait(waiting, pace, waiting / pace if pace > 0 else None)


STEADY = 0.25
"""Up to this share off, the law is said to hold well enough to go by."""
FEW = 10


@dataclass(frozen=True, slots=True)
class Checked:
    """Little's law held against a record: average number present, arrivals a day, average days each stayed.

    Over a whole record that begins and ends empty, present = arrivals x stayed exactly; over a window it differs by
    what was cut off at its edges: much, where the queue grew or shrank in it. `left` pieces the stays are taken over.
    """

    present: float
    arrivals: float
    stayed: float
    left: int

    @property
    def product(self) -> float:
        return self.arrivals * self.stayed

    @property
    def off(self) -> float:
        """How far the two sides differ, as a share of the number present; 0 when nothing was there."""
        return abs(self.present - self.product) / self.present if self.present else 0.0

    @property
    def off_percent(self) -> float:
        return self.off * 100

    @property
    def words(self) -> str:
        """What the check says of an estimate made by the pace."""
        if self.left < FEW:
            return "too few to say"
        if self.off <= STEADY:
            return "it holds"
        return "it does not hold: the queue was not steady, so take the days for a rough guess"


def check(
    visits: Iterable[tuple[datetime, datetime | None]], first: datetime, until: datetime, throughout: int = 0
) -> Checked:
    """The three averages over the window [first, until), from visits (came, left); left None is still there.

    Who came before the window counts as present from its start, but not among those who arrived in it; how long
    each stayed is taken over those who left in it. `throughout` more, not among `visits`, came before it and are
    still there: they count as present, and no more.
    """
    day, whole = timedelta(days=1), (until - first) / timedelta(days=1)
    if whole <= 0:
        raise ValueError("the window is empty")
    present = 0.0
    came, stays = 0, list[float]()
    for start, end in visits:
        present += max(0.0, (min(end or until, until) - max(start, first)) / day)
        came += first <= start < until
        if end is not None and first <= end < until:
            stays.append((end - start) / day)
    return Checked(present / whole + throughout, came / whole, sum(stays) / len(stays) if stays else 0.0, len(stays))


def check_sums(present: timedelta, came: int, stayed: timedelta, left: int, window: timedelta) -> Checked:
    """The same from sums: the time all that was there spent in the window, how many came in it, how many left in it
    and how long all of these had stayed.

    >>> check_sums(timedelta(days=30), 10, timedelta(days=30), 10, timedelta(days=10))
    Checked(present=3.0, arrivals=1.0, stayed=3.0, left=10)
    """
    if window <= timedelta():
        raise ValueError("the window is empty")
    days = window / timedelta(days=1)
    return Checked(present / window, came / days, stayed / timedelta(days=1) / left if left else 0.0, left)
