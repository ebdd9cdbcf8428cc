"""How much of the fleet's cost is at work, and what it earns on that cost.

The definitions of the American Rental Association's Rental Market Metrics (2011), as described by J. McClelland in the
trade press: time utilisation is the share of fleet days, weighted by original equipment cost (OEC), on which gear was
out; financial utilisation is rental revenue of a year over OEC, revenue from hire alone (no delivery, damage or sales).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple


class Days(NamedTuple):
    """Gear of one cost: days out and days owned in the period."""

    cost: Decimal
    out: int
    owned: int


@dataclass(frozen=True, slots=True)
class Utilisation:
    """Cost times days, out and owned. `share` is None when nothing was owned."""

    out: Decimal
    owned: Decimal

    @property
    def share(self) -> Decimal | None:
        return self.out / self.owned if self.owned else None

    @property
    def percent(self) -> Decimal | None:
        return None if self.share is None else self.share * 100


def time_utilisation(gear: Iterable[Days]) -> Utilisation:
    """
    >>> used = time_utilisation([Days(Decimal(1000), 20, 30), Days(Decimal(3000), 5, 30)])
    >>> used.out, used.owned, round(used.share, 4)
    (Decimal('35000'), Decimal('120000'), Decimal('0.2917'))
    """
    out = owned = Decimal(0)
    for each in gear:
        if not 0 <= each.out <= each.owned:
            raise ValueError(f"{each.out} days out of {each.owned} owned")
        out += each.cost * each.out
        owned += each.cost * each.owned
    return Utilisation(out, owned)


def financial_utilisation(revenue: Decimal, days: int, cost: Decimal) -> Decimal | None:
    """Revenue of so many days, brought to a year of 365, over the original cost; None without cost or days.

    >>> financial_utilisation(Decimal(6000), 365, Decimal(4000))
    Decimal('1.5')
    """
    return None if days <= 0 or cost <= 0 else revenue * 365 / days / cost


def overlap(since: date, until: date | None, first: date, after: date) -> int:
    """Days of [since, until) that fall into [first, after); an open span goes on to its end.

    >>> overlap(date(2026, 1, 30), None, date(2026, 2, 1), date(2026, 3, 1))
    28
    """
    return max(0, (min(until or after, after) - max(since, first)).days)
