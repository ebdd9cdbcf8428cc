"""Buy or hire in: the list of types that turns the answer at the least cost.

Money is in whole cents. A source says what one costs, for the time it is wanted, and from when it can be on
site. Whatever the lengths, runs are composed anew with what is bought, so the list is the cheapest there is and
not the lack of the plan at hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from jobs.planning.limits import Limits
from jobs.planning.remedies.extras import Taken, least_price
from jobs.planning.remedies.offers import Change, Offer, days_needed
from jobs.planning.request import CoverRequest


@dataclass(frozen=True, slots=True)
class Source:
    """Where more of a type can be had: `cents` for one, on site on [`start`, `until`), at most so many."""

    key: str
    code: str
    cents: int
    start: date
    until: date | None = None
    most: int | None = None


@dataclass(frozen=True, slots=True)
class Purchase:
    """So many of a type from one source; the first is needed on site on `day`."""

    key: str
    code: str
    count: int
    cents: int
    day: date


@dataclass(frozen=True)
class BuyAnswer:
    """What to buy or hire in, soonest first. `found.price` and `found.bound` are cents."""

    found: Taken
    lines: tuple[Purchase, ...]


def buy(request: CoverRequest, sources: Sequence[Source], limits: Limits) -> BuyAnswer:
    """The cheapest list with which the request is covered."""
    ample = len(request.runs) * request.rules.max_pieces_per_run
    offers = [
        Offer(
            each.key,
            each.cents,
            ample if each.most is None else min(each.most, ample),
            (Change(each.code, 1, each.start, each.until),),
        )
        for each in sources
    ]
    found = least_price(request, offers, limits)
    lines = [
        Purchase(each.key, each.code, found.taken[each.key], each.cents, _day(request, found, each))
        for each in sources
        if found.taken.get(each.key)
    ]
    return BuyAnswer(found, tuple(sorted(lines, key=lambda line: (line.day, line.code))))


def _day(request: CoverRequest, found: Taken, each: Source) -> date:
    needed = days_needed(request, found.runs, each.code)
    return max(each.start, needed[0]) if needed else each.start
