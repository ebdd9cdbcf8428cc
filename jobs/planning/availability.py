"""Stock over time: what a job can count on, day by day, beside what every other job has claimed.

Gear is in lots, each ready in the yard from a day (and, when it is hired in, only until another). Other
jobs claim gear: on any day a job takes the greater of what it has reserved and what it still holds, from
the day it is loaded until it is counted back and cleaned. Gear that a job holds past its due day counts as
none, until it is dated anew.

What is on hand at the site on a day is the least that the yard has from the day a truck for it is loaded
until the gear would be back, counted and clean: a piece that another job needs in between is no use here.

>>> week = (date(2027, 3, 1), date(2027, 3, 6))
>>> lots = [Lot("A", 10, date(2027, 3, 1)), Lot("A", 5, date(2027, 3, 3))]
>>> claims = [Claim("A", ((date(2027, 3, 4), 4),), held=0, back=date(2027, 3, 6))]
>>> on_hand(lots, claims, week, Lead(0, 0), WorkingCalendar())["A"]
((datetime.date(2027, 3, 1), 10), (datetime.date(2027, 3, 3), 15), (datetime.date(2027, 3, 4), 11))
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from jobs.calendars.working import WorkingCalendar

DAY = timedelta(days=1)
Steps = tuple[tuple[date, int], ...]


@dataclass(frozen=True, slots=True)
class Lot:
    """So many of a type in a yard on the half-open days [`ready`, `until`); for good when `until` is None."""

    code: str
    count: int
    ready: date
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Claim:
    """What one other job takes of one type.

    `reserved` are steps (day, count in all) from the load list; `held` is what stands on its site now.
    Both end on `back`, the day the gear is counted back and clean; None is overdue or undated: what it holds
    is then gone for good, and what it had reserved beyond that is no longer awaited.
    """

    code: str
    reserved: Steps
    held: int
    back: date | None

    def taken_on(self, day: date) -> int:
        """How many it takes on `day`."""
        if self.back is None:
            return self.held
        if day >= self.back:
            return 0
        reserved = [count for start, count in self.reserved if start <= day]
        return max(self.held, reserved[-1] if reserved else 0)


@dataclass(frozen=True, slots=True)
class Lead:
    """Working days to the site, and working days back to count and clean."""

    transport_days: int
    turnround_days: int

    def load_day(self, used: date, calendar: WorkingCalendar) -> date:
        """The day on which gear used on `used` is loaded."""
        return min(used, calendar.add(used, -self.transport_days)) if self.transport_days else used

    def back_day(self, used: date, calendar: WorkingCalendar) -> date:
        """The first day on which gear last used on `used` can be sent elsewhere."""
        days = self.transport_days + self.turnround_days
        return calendar.add(used + DAY, days) if days else used + DAY


def yard_stock(lots: Iterable[Lot], claims: Iterable[Claim], day: date) -> int:
    """How many of one type are in the yard on `day`, never under 0. All lots and claims are of that type."""
    return max(0, yard_level(lots, claims, day))


def yard_level(lots: Iterable[Lot], claims: Iterable[Claim], day: date) -> int:
    """The same, below 0 by how many others have claimed beyond it: what is had in addition goes to them first."""
    there = sum(lot.count for lot in lots if lot.ready <= day and (lot.until is None or day < lot.until))
    return there - sum(claim.taken_on(day) for claim in claims)


def on_hand(
    lots: Sequence[Lot],
    claims: Sequence[Claim],
    days: tuple[date, date],
    lead: Lead,
    calendar: WorkingCalendar,
    *,
    owed_from: date | None = None,
) -> dict[str, Steps]:
    """Steps (day, count) of what each type's count on site can be on the half-open `days`, by code; from the load
    day `owed_from` on below 0 where others have claimed more than there is."""
    first, until = days
    used = [first + DAY * at for at in range((until - first).days)]
    windows = [(lead.load_day(day, calendar), lead.back_day(day, calendar)) for day in used]
    least = [0 if owed_from is None or start < owed_from else None for start, _ in windows]
    return {
        code: _steps(
            (day, level if floor is None else max(floor, level))
            for day, floor, level in zip(used, least, _least(own_lots, own_claims, windows), strict=True)
        )
        for code, (own_lots, own_claims) in _by_code(lots, claims).items()
    }


def _by_code(lots: Iterable[Lot], claims: Iterable[Claim]) -> dict[str, tuple[list[Lot], list[Claim]]]:
    found: dict[str, tuple[list[Lot], list[Claim]]] = defaultdict(lambda: ([], []))
    for lot in lots:
        found[lot.code][0].append(lot)
    for claim in claims:
        found[claim.code][1].append(claim)
    return found


def _least(lots: list[Lot], claims: list[Claim], windows: Sequence[tuple[date, date]]) -> list[int]:
    """The least stock in each half-open window; stock changes only on the days of its steps."""
    changes = sorted(_change_days(lots, claims))
    levels = {day: yard_level(lots, claims, day) for day in changes}
    return [
        min(
            [yard_level(lots, claims, start), *(levels[day] for day in changes if start < day < end)],
        )
        for start, end in windows
    ]


def _change_days(lots: Iterable[Lot], claims: Iterable[Claim]) -> set[date]:
    found = {lot.ready for lot in lots} | {lot.until for lot in lots if lot.until}
    for claim in claims:
        found |= {day for day, _ in claim.reserved}
        found |= {claim.back} if claim.back else set()
    return found


def _steps(levels: Iterable[tuple[date, int]]) -> Steps:
    steps: list[tuple[date, int]] = []
    for day, count in levels:
        if not steps or steps[-1][1] != count:
            steps.append((day, count))
    return tuple(steps)
