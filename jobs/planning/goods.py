"""What pours need beside the edge forms, day by day, against what is on hand.

Gear that comes back is needed while its pour holds it: on a day, the sum over the pours of that day. What stays in
the concrete is needed for good from the day its pour is set: the sum over all pours set so far. A need that no pour
dates (a crew's tools) stands throughout. Stock is steps (day, count), as the cover check has it; before the first
step there is none. Days are half-open, [from, until).

>>> need = GoodsNeed("corner clamp", False, False, ((date(2027, 3, 1), 8), (date(2027, 3, 4), 4)), 9, Decimal(0))
>>> against(need, ((date(2027, 2, 1), 6), (date(2027, 3, 3), 10)))
Lack(short=2, first=datetime.date(2027, 3, 1), spare=-2, tightest=datetime.date(2027, 3, 1))
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from jobs.planning.availability import Steps
from jobs.planning.rules import Rule
from jobs.planning.takeoff import Need, Takeoff

Days = Mapping[str, tuple[date, date]]


@dataclass(frozen=True, slots=True)
class GoodsNeed:
    """So many of a kind (of a type, with `by_type`) needed from each day on; `send` is the most, spares added.

    Of what is `used_up` the steps never fall. `spare` is the share of spares, in per cent.
    """

    what: str
    by_type: bool
    used_up: bool
    steps: Steps
    send: int
    spare: Decimal

    @property
    def most(self) -> int:
        """The greatest number needed on any day; of what is used up, all of it."""
        return max((count for _, count in self.steps), default=0)

    def with_spares(self, count: int) -> int:
        """So many and the spares for them, rounded up to whole articles."""
        return math.ceil(count + count * self.spare / 100)


@dataclass(frozen=True, slots=True)
class Lack:
    """The greatest daily lack and its first day; the least to spare (negative when short) and the day of that."""

    short: int
    first: date | None
    spare: int
    tightest: date | None


def goods_needs(
    takeoff: Takeoff, rules: Sequence[Rule], days: Days, past: Collection[str] = ()
) -> tuple[GoodsNeed, ...]:
    """Everything the rules count, in the order they count it. `days` is [from, until) of each pour.

    Pours in `past` have had what they use up, and hold what comes back only as long as `days` says. A need of no
    pour, and of a pour without days, stands over the whole span.
    """
    by_code = {rule.code: rule for rule in rules}
    groups: dict[tuple[str, bool], list[Need]] = defaultdict(list)
    for need in takeoff.needs:
        if need.quantity:
            groups[need.what, need.by_type].append(need)
    first = min((start for start, _ in days.values()), default=None)
    if first is None:
        return ()
    return tuple(_need(what, by_type, needs, by_code, days, past, first) for (what, by_type), needs in groups.items())


def against(need: GoodsNeed, stock: Steps) -> Lack:
    """A need held against the stock, on every day that either changes."""
    if not need.steps:
        return Lack(0, None, 0, None)
    watched = sorted({day for day, _ in need.steps} | {day for day, _ in stock if day > need.steps[0][0]})
    spares = [(level(stock, day) - wanted, day) for day in watched if (wanted := level(need.steps, day))]
    spare, tightest = min(spares)
    first = min((day for left, day in spares if left < 0), default=None)
    return Lack(max(0, -spare), first, spare, tightest)


def level(steps: Steps, day: date) -> int:
    """The count on a day; none before the first step."""
    at = bisect_right(steps, day, key=lambda step: step[0])
    return steps[at - 1][1] if at else 0


def deliveries(need: GoodsNeed) -> Steps:
    """(day, how many more) on each day that more is needed than ever before, spares with each."""
    found, had = [], 0
    for day, count in need.steps:
        if need.with_spares(count) > had:
            found.append((day, need.with_spares(count) - had))
            had = need.with_spares(count)
    return tuple(found)


def _need(
    what: str,
    by_type: bool,
    needs: Sequence[Need],
    rules: Mapping[str, Rule],
    days: Days,
    past: Collection[str],
    first: date,
) -> GoodsNeed:
    used_up = any(rules[need.rule].used_up for need in needs)
    spare = max(rules[need.rule].spare_percent for need in needs)
    change: dict[date, Decimal] = defaultdict(Decimal)
    for need in needs:
        if used_up and need.pour in past:
            continue
        start, until = days.get(need.pour, (first, None))
        change[start] += need.quantity
        if until is not None and not used_up:
            change[until] -= need.quantity
    found = GoodsNeed(what, by_type, used_up, _steps(change), 0, spare)
    return GoodsNeed(what, by_type, used_up, found.steps, found.with_spares(found.most), spare)


def _steps(change: Mapping[date, Decimal]) -> Steps:
    total, found = Decimal(0), list[tuple[date, int]]()
    for day in sorted(change):
        total += change[day]
        count = math.ceil(total)
        if not found or found[-1][1] != count:
            found.append((day, count))
    return tuple(found)
