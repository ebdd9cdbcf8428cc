"""Buy or hire in: the list of types that turns the answer at the least cost.

Money is in whole cents. A source says what one costs, for the time it is wanted, and from when it can be on
site. Whatever the lengths, runs are composed anew with what is bought, so the list is the cheapest there is and
not the lack of the plan at hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from jobs.planning.limits import Limits
from jobs.planning.remedies.extras import Taken
from jobs.planning.remedies.offers import Change, Offer
from jobs.planning.remedies.shortage import Shortage, first_day


@dataclass(frozen=True, slots=True)
class Source:
    """Where more of a type can be had: `cents` for one, on site on [`start`, `until`), at most so many.

    `later`: where that number hangs on when the job starts, at most so many if it starts 1, 2, ... working days later.
    Not `priced`: its price is not known, and `cents` only weighs it against others, a form by its length in mm.
    """

    key: str
    code: str
    cents: int
    start: date
    until: date | None = None
    most: int | None = None
    priced: bool = True
    later: tuple[int, ...] = ()

    def put_off(self, days: int) -> Source:
        """The same for a job that starts so many working days later."""
        return replace(self, most=self.later[min(days, len(self.later)) - 1]) if days and self.later else self


@dataclass(frozen=True, slots=True)
class Purchase:
    """So many of a type from one source; the first is needed on site on `day`."""

    key: str
    code: str
    count: int
    cents: int
    day: date
    priced: bool = True


@dataclass(frozen=True)
class BuyAnswer:
    """What to buy or hire in, soonest first. `found.price` and `found.bound` are cents, where all is priced."""

    found: Taken
    lines: tuple[Purchase, ...]


def buy(shortage: Shortage, sources: Sequence[Source], limits: Limits) -> BuyAnswer:
    """The cheapest list with which nothing is lacking."""
    found = shortage.least_price(offers_to_buy(shortage, sources), limits)
    return BuyAnswer(found, purchases(shortage, found, sources))


def offers_to_buy(shortage: Shortage, sources: Sequence[Source]) -> list[Offer]:
    """Each source as an offer by its own key."""
    ample = shortage.most_lacking()
    return [
        Offer(
            each.key,
            each.cents,
            ample if each.most is None else min(each.most, ample),
            (Change(each.code, 1, each.start, each.until),),
        )
        for each in sources
    ]


def purchases(shortage: Shortage, found: Taken, sources: Sequence[Source]) -> tuple[Purchase, ...]:
    """What of them was taken, soonest first."""
    lines = [
        Purchase(
            each.key,
            each.code,
            found.taken[each.key],
            each.cents,
            first_day(shortage, found, each.code, each.start),
            each.priced,
        )
        for each in sources
        if found.taken.get(each.key)
    ]
    return tuple(sorted(lines, key=lambda line: (line.day, line.code)))
