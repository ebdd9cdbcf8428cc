"""The figures as the pages show them: groups named, rates with their bands, lives, costs, revenue, margins."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Sum

from inventory.figures.cost import Outlook, per_use
from inventory.figures.rates import Rate, wilson
from inventory.figures.survival import Curve
from inventory.figures.utilisation import Utilisation, financial_utilisation
from inventory.models import GearType, YardSettings
from inventory.selectors import figures as sums
from inventory.selectors.figures import Key, Lived, Period, Tally, month_after
from inventory.selectors.figures_of_types import curves
from jobs.models import BillLine, Customer, Job
from jobs.selectors.gear_cost import MixCost, mixes, money_rate, outlooks

GEAR_LINES = ("hire", "use")
"""Lines of a bill that gear earned: hire and per-use charges, as the trade's financial utilisation wants them."""
BY = {"type": "type", "age": "year bought", "batch": "maker's batch", "job": "job", "customer": "customer"}
PLACES = {"job": "place__job", "customer": "place__job__customer"}
"""How the summaries lead from the site where it happened to the job and its customer."""


@dataclass(frozen=True, slots=True)
class Row:
    """One group; None where it does not apply or cannot be said.

    tally, damage, loss, used, revenue, financial   over the period
    lived, curve                                    over all time
    outlook, cost_per_use, a_year                   one piece: what a use and a year of it can be expected to cost;
                                                    of a job's mix: `mix`
    """

    key: Key
    label: str
    tally: Tally
    damage: Rate
    loss: Rate
    curve: Curve | None = None
    used: Utilisation | None = None
    lived: Lived | None = None
    outlook: Outlook | None = None
    mix: MixCost | None = None
    a_year: Decimal | None = None
    revenue: Decimal | None = None
    financial: Decimal | None = None

    @property
    def uses_per_piece(self) -> float | None:
        return self.tally.casts / self.tally.pieces if self.tally.pieces else None

    @property
    def cost_so_far(self) -> Decimal | None:
        return None if self.lived is None else per_use(self.lived.spent, self.lived.uses)

    @property
    def cost_per_use(self) -> Decimal | None:
        if self.mix is not None:
            return self.mix.per_use
        return None if self.outlook is None else self.outlook.per_use

    @property
    def margin(self) -> Decimal | None:
        return None if self.revenue is None or self.mix is None else self.revenue - self.mix.amount

    @property
    def used_percent(self) -> Decimal | None:
        return None if self.used is None else self.used.percent

    @property
    def financial_percent(self) -> Decimal | None:
        return None if self.financial is None else self.financial * 100


def rows(period: Period, by: str, settings: YardSettings) -> list[Row]:
    """The groups of one kind, those cast most first."""
    found = _of_places(period, by, settings) if by in PLACES else _of_pieces(period, by, settings)
    return sorted(found, key=lambda row: (-row.tally.casts, row.label))


def _of_pieces(period: Period, by: str, settings: YardSettings) -> list[Row]:
    tallies, lived, lasting = sums.tallies(period, by), sums.lived(by, settings.clean_cost), curves(by)
    out, owned = sums.piece_days(period, by)
    used = sums.utilised(out, owned)
    kinds = GearType.objects.in_bulk() if by == "type" else {}
    expected, revenue = outlooks(tallies, lived, lasting, sums.by_key(owned), settings), _revenue(period, by, kinds)
    found = []
    for key, label in _names(by, {*tallies, *lived}, kinds).items():
        tally, outlook, days = tallies.get(key, Tally()), expected.get(key), used.get(key)
        earned = revenue.get(key)
        found.append(
            Row(
                key,
                label,
                tally,
                wilson(tally.damaged, tally.casts),
                wilson(tally.lost, tally.casts),
                lasting.get(key),
                days,
                lived.get(key),
                outlook,
                a_year=outlook.a_year_at(money_rate(settings)) if outlook is not None else None,
                revenue=earned,
                financial=_earned(earned, period, days.owned if days is not None else Decimal(0)),
            )
        )
    return found


def _earned(revenue: Decimal | None, period: Period, cost_days: Decimal) -> Decimal | None:
    """Revenue brought to a year, over the original cost that was there on the average day."""
    if revenue is None or period.days <= 0:
        return None
    return financial_utilisation(revenue, period.days, cost_days / period.days)


def _names(by: str, keys: set[Key], kinds: Mapping[Any, GearType]) -> dict[Key, str]:
    """What each group is called; crates are no gear to judge."""
    if by == "type":
        return {pk: f"{kind.code} {kind.name}" for pk, kind in kinds.items() if pk in keys and not kind.is_crate}
    if by == "batch":
        return {key: str(key or "no batch given") for key in keys}
    return {key: "not known" if key is None else str(key) for key in keys}


def _revenue(period: Period, by: str, known: Mapping[Any, GearType]) -> dict[Key, Decimal]:
    """What gear of each group earned: by type as billed; by batch or age each type's is shared by days on sites."""
    kinds: dict[str, Key] = {kind.code: pk for pk, kind in (known or GearType.objects.in_bulk()).items()}
    billed = _lines(period).values_list("type_code").annotate(n=Sum("net"))
    of_types: dict[Key, Decimal] = {kinds[code]: Decimal(net) for code, net in billed if code in kinds}
    if by == "type":
        return of_types
    days: dict[Key, Counter[Key]] = defaultdict(Counter)
    for ((kind, group), _cost), n in sums.piece_days(period, "type", by)[0].items():
        days[kind][group] += n
    found: dict[Key, Decimal] = defaultdict(Decimal)
    for kind, net in of_types.items():
        whole = days[kind].total()
        for group, n in days[kind].items():
            if whole:
                found[group] += net * n / whole
    return dict(found)


def _lines(period: Period) -> Any:
    """Lines that gear earned on what was issued for periods that begin within it; credit notes count against."""
    return BillLine.objects.filter(
        bill__issued_at__isnull=False,
        bill__period_from__gte=period.first,
        bill__period_from__lt=period.after,
        kind__in=GEAR_LINES,
    ).order_by()


def _of_places(period: Period, by: str, settings: YardSettings) -> list[Row]:
    """By the site where the casts were made and the gear stood."""
    path = PLACES[by]
    tallies, lasting = sums.tallies(period, path), curves(path)
    out, held = _held(period, path)
    mixed = mixes(sums.casts_by_place_and_type(period, path), held, settings, period)
    owned = sum((used.owned for used in sums.utilisation(period, "lot__ours").values()), Decimal(0))
    billed = _lines(period).values_list("bill__job" if by == "job" else "bill__job__customer").annotate(n=Sum("net"))
    revenue = {key: Decimal(net) for key, net in billed}
    model: Any = Job if by == "job" else Customer
    names = model.objects.in_bulk([key for key in {*tallies, *out, *revenue} if key is not None])
    found = []
    for key, one in names.items():
        tally = tallies.get(key, Tally())
        found.append(
            Row(
                key,
                str(one),
                tally,
                wilson(tally.damaged, tally.casts),
                wilson(tally.lost, tally.casts),
                lasting.get(key),
                Utilisation(out[key], owned),
                mix=mixed.get(key, MixCost()),
                a_year=mixed[key].a_year if key in mixed else None,
                revenue=revenue.get(key),
                financial=_earned(revenue.get(key), period, out[key]),
            )
        )
    return found


def _held(period: Period, path: str) -> tuple[dict[Key, Decimal], Counter[tuple[Key, Key]]]:
    """Cost times days on the sites of each group; and piece-days by group and type."""
    out: dict[Key, Decimal] = defaultdict(Decimal)
    held: Counter[tuple[Key, Key]] = Counter()
    for ((key, kind), cost), days in sums.piece_days(period, path, "type")[0].items():
        out[key] += cost * days
        held[key, kind] += days
    return out, held


def months_of(period: Period) -> list[date]:
    found = [period.first]
    while (after := month_after(found[-1])) < period.after:
        found.append(after)
    return found
