"""The whole fleet month by month, from one query."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.db.models import F, Sum

from inventory.figures.utilisation import Utilisation
from inventory.models import LotMonth
from inventory.selectors.figures import Tally
from inventory.selectors.lot_sums import NUMBERS, ON_SITES
from inventory.selectors.periods import Period, month_after


@dataclass(slots=True)
class Change:
    """In one month: what came less what left, and so many days from then to the month's end, likewise."""

    more: Decimal = Decimal(0)
    days: Decimal = Decimal(0)

    def add(self, more: Decimal, days: Decimal) -> None:
        self.more += more
        self.days += days


@dataclass(slots=True)
class FleetMonth:
    """One month: what happened (how many pieces were used is left out), and how many more were dirty at its end than
    before it; of ours, on sites and on the books, at what the pieces cost; and on the books, in pieces."""

    tally: Tally = field(default_factory=Tally)
    dirty: int = 0
    out: Change = field(default_factory=Change)
    owned: Change = field(default_factory=Change)
    pieces: Change = field(default_factory=Change)


Months = Mapping[date, FleetMonth]


def fleet_months(after: date) -> Months:
    """Every month before `after` in which anything happened."""
    found: dict[date, FleetMonth] = defaultdict(FleetMonth)
    facts = ("month", "lot__ours", "lot__cost", "lot__type__replacement_value")
    counted = (
        LotMonth.objects.filter(month__lt=after)
        .order_by()
        .values_list(*facts)
        .annotate(
            dirty=Sum(F("soiled") - F("shed")),
            out=Sum(F("came") - F("left"), filter=ON_SITES, default=0),
            out_days=Sum(F("came_days") - F("left_days"), filter=ON_SITES, default=0),
            owned=Sum(F("bought") - F("gone")),
            owned_days=Sum(F("bought_days") - F("gone_days")),
            **{f"s_{name}": Sum(name) for name in NUMBERS},
        )
    )
    for month, ours, own, value, dirty, out, out_days, owned, owned_days, *numbers in counted:
        cost, one = value if own is None else own, found[month]
        one.tally += Tally(0, *numbers)
        one.dirty += dirty
        if ours:
            one.out.add(cost * out, cost * out_days)
            one.owned.add(cost * owned, cost * owned_days)
            one.pieces.add(Decimal(owned), Decimal(owned_days))
    return found


def happened(months: Months, first: date) -> dict[date, Tally]:
    """From that month on, of months in which anything happened."""
    return {month: one.tally for month, one in months.items() if month >= first and one.tally != Tally()}


def dirty_at_ends(months: Months) -> Counter[date]:
    """Pieces dirty at each month's end."""
    found, so_far = Counter[date](), 0
    for month in sorted(months):
        so_far += months[month].dirty
        found[month] = so_far
    return found


def used_in(months: Months, periods: Sequence[Period]) -> list[tuple[Utilisation, int]]:
    """Time utilisation of all that is ours in each period, and the piece-days owned behind it."""
    found = []
    for period in periods:
        out, owned = _within(period, months, "out"), _within(period, months, "owned")
        found.append((Utilisation(out, owned), int(_within(period, months, "pieces"))))
    return found


def _within(period: Period, months: Months, what: str) -> Decimal:
    """Piece-days within the period, counted as `inventory.selectors.lot_sums.days` does."""
    total = Decimal(0)
    for month, each in months.items():
        if month < period.after:
            change: Change = getattr(each, what)
            rest = (period.after - max(period.first, month_after(month))).days
            total += change.more * rest + (change.days if month >= period.first else 0)
    return total
