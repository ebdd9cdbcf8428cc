"""What gear can be expected to cost: a use, and a year; by group, and for the mix that a job has used and held."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from inventory.figures.cost import Outlook, per_use
from inventory.figures.rates import TOO_FEW
from inventory.figures.survival import Curve, expected_left
from inventory.models import YardSettings
from inventory.selectors import figures as sums
from inventory.selectors.figures import Key, Lived, Lots
from inventory.selectors.figures_of_types import curves
from inventory.selectors.periods import Period

YEAR = 365


@dataclass(frozen=True, slots=True)
class UseCost:
    """What one use of a type is put at, and whether that is over its expected life; else it is what a use has cost so
    far, which is dear while gear is young."""

    amount: Decimal
    over_life: bool


def outlooks(
    casts: Counter[Key],
    lived: Mapping[Key, Lived],
    lasting: Mapping[Key, Curve],
    days: Counter[Key],
    settings: YardSettings,
) -> dict[Key, Outlook]:
    """One piece of each group, on average over its pieces, at the pace of the period: `casts` of ours over piece-`days`
    owned.

    Where a group has too few uses to say what mending and cleaning come to for one, the whole fleet's is taken.
    """
    fleet = _keep(lived.values())
    return {
        key: _outlook(one, lasting.get(key), casts[key] * YEAR / days[key] if days[key] else 0.0, fleet, settings)
        for key, one in lived.items()
        if one.pieces
    }


def _keep(some: Iterable[Lived]) -> Decimal | None:
    """To mend and clean, for each use."""
    spent, uses = Decimal(0), 0
    for one in some:
        spent, uses = spent + one.spent.mended + one.spent.cleaned, uses + one.uses
    return spent / uses if uses >= TOO_FEW else None


def _outlook(one: Lived, curve: Curve | None, a_year: float, fleet: Decimal | None, settings: YardSettings) -> Outlook:
    seen = expected_left(curve, 0) if curve is not None else None
    rated = one.rated / one.pieces if one.with_rating == one.pieces else None
    own = _keep([one])
    keep = fleet if own is None else own
    return Outlook(
        one.spent.bought / one.pieces,
        settings.scrap_price_kg * one.mass_kg / one.pieces,
        rated if seen is None else seen,
        seen is not None,
        keep,
        a_year,
    )


def money_rate(settings: YardSettings) -> Decimal:
    """The yearly cost of money as a share; settings that were never kept hold it as a whole number."""
    return Decimal(settings.money_cost_percent) / 100


def use_costs(lived: Mapping[Key, Lived], found: Mapping[Key, Outlook]) -> dict[Key, UseCost]:
    """A use of each type: over its life where that is known, else so far; types without a use have none."""
    costs = {}
    for key, one in lived.items():
        whole, so_far = found[key].per_use if key in found else None, per_use(one.spent, one.uses)
        if whole is not None:
            costs[key] = UseCost(whole, True)
        elif so_far is not None:
            costs[key] = UseCost(so_far, False)
    return costs


@dataclass(slots=True)
class MixCost:
    """What the uses of a mix of types come to, and how many of them at a cost so far; and the mean yearly cost of one
    of its pieces, over the piece-days of types for which it is known."""

    amount: Decimal = Decimal(0)
    uses: int = 0
    so_far: int = 0
    yearly: Decimal = Decimal(0)
    days: int = 0

    @property
    def per_use(self) -> Decimal | None:
        return self.amount / self.uses if self.uses >= TOO_FEW else None

    @property
    def a_year(self) -> Decimal | None:
        return self.yearly / self.days if self.days else None


def mixes(
    casts: Mapping[tuple[Key, Key], int],
    days: Counter[tuple[Key, Key]],
    settings: YardSettings,
    period: Period,
    lots: Lots,
) -> dict[Key, MixCost]:
    """By the first half of the key; the second is the type. Uses, and piece-days held; and the lots of the period."""
    lived = sums.lived("type", settings.clean_cost, lots)
    owned = sums.by_key(sums.piece_days(period, "type", lots=lots)[1])
    found = outlooks(sums.casts_of_ours(period, "type", lots), lived, curves("type"), owned, settings)
    costs, rate = use_costs(lived, found), money_rate(settings)
    mixed: dict[Key, MixCost] = defaultdict(MixCost)
    for (key, kind), n in casts.items():
        cost, mix = costs.get(kind), mixed[key]
        mix.uses += n
        if cost is not None:
            mix.amount += cost.amount * n
        if cost is None or not cost.over_life:
            mix.so_far += n
    for (key, kind), held in days.items():
        a_year = found[kind].a_year_at(rate) if kind in found else None
        if a_year is not None and held > 0:
            mixed[key].yearly += a_year * held
            mixed[key].days += held
    return dict(mixed)
