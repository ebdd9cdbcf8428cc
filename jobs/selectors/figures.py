"""The figures as the pages show them: groups named, rates with their bands, lives, costs, revenue, margins."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, NamedTuple

from django.db.models import Count, Sum

from inventory.figures.cost import Outlook, per_use
from inventory.figures.rates import Rate, wilson
from inventory.figures.survival import Curve
from inventory.figures.utilisation import Utilisation, financial_utilisation
from inventory.models import GearType, YardSettings
from inventory.selectors import figures as sums
from inventory.selectors.figures import Key, Lived, Lots, Tally
from inventory.selectors.figures_of_types import curves
from inventory.selectors.lot_sums import lot_sums
from inventory.selectors.periods import Period
from jobs.models import BillLine, Customer, Job
from jobs.selectors.gear_cost import MixCost, mixes, money_rate, outlooks

GEAR_LINES = ("hire", "use")
"""Lines of a bill that gear earned: hire and per-use charges, as the trade's financial utilisation wants them."""
BY = {"type": "type", "age": "year bought", "batch": "maker's batch", "job": "job", "customer": "customer"}
PLACES = {"job": "place__job", "customer": "place__job__customer"}
"""How the summaries lead from the site where it happened to the job and its customer."""


class Earned(NamedTuple):
    """What gear earned, over so many lines of bills and credit notes."""

    net: Decimal = Decimal(0)
    lines: int = 0


class PieceDays(NamedTuple):
    """Piece-days on sites, and those they are a share of."""

    out: int
    owned: int


@dataclass(frozen=True, slots=True)
class Row:
    """One group; None where it does not apply or cannot be said.

    tally, damage, loss, used, days, earned, financial   over the period
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
    days: PieceDays | None = None
    lived: Lived | None = None
    outlook: Outlook | None = None
    mix: MixCost | None = None
    a_year: Decimal | None = None
    earned: Earned | None = None
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
    def revenue(self) -> Decimal | None:
        return None if self.earned is None else self.earned.net

    @property
    def margin(self) -> Decimal | None:
        """None where nothing was billed, or too few uses were made to put a cost against it."""
        if self.mix is not None and self.mix.per_use is None:
            return None
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
    lots, lasting = lot_sums(period), curves(by)
    tallies, lived = sums.tallies(period, by, lots), sums.lived(by, settings.clean_cost, lots)
    out, owned = sums.piece_days(period, by, lots=lots)
    used = sums.utilised(out, owned)
    kinds = GearType.objects.in_bulk() if by == "type" else {}
    ours = Counter({key: tally.ours for key, tally in tallies.items()})
    days_out, days_owned = sums.by_key(out), sums.by_key(owned)
    expected, revenue = outlooks(ours, lived, lasting, days_owned, settings), _revenue(period, by, kinds, lots)
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
                PieceDays(days_out[key], days_owned[key]),
                lived.get(key),
                outlook,
                a_year=outlook.a_year_at(money_rate(settings)) if outlook is not None else None,
                earned=earned,
                financial=_of_cost(earned, period, days.owned if days is not None else Decimal(0)),
            )
        )
    return found


def _of_cost(earned: Earned | None, period: Period, cost_days: Decimal) -> Decimal | None:
    """Revenue brought to a year, over the original cost that was there on the average day."""
    if earned is None or period.days <= 0:
        return None
    return financial_utilisation(earned.net, period.days, cost_days / period.days)


def _names(by: str, keys: set[Key], kinds: Mapping[Any, GearType]) -> dict[Key, str]:
    """What each group is called; crates are no gear to judge."""
    if by == "type":
        return {pk: f"{kind.code} {kind.name}" for pk, kind in kinds.items() if pk in keys and not kind.is_crate}
    if by == "batch":
        return {key: str(key or "no batch given") for key in keys}
    return {key: "not known" if key is None else str(key) for key in keys}


def _revenue(period: Period, by: str, known: Mapping[Any, GearType], lots: Lots) -> dict[Key, Earned]:
    """What gear of each group earned: by type as billed; by batch or age each type's is shared by days on sites."""
    kinds: dict[str, Key] = {kind.code: pk for pk, kind in (known or GearType.objects.in_bulk()).items()}
    of_types = {kinds[code]: earned for code, earned in _billed(period, "type_code").items() if code in kinds}
    if by == "type":
        return of_types
    days: dict[Key, Counter[Key]] = defaultdict(Counter)
    for ((kind, group), _cost), n in sums.piece_days(period, "type", by, lots=lots)[0].items():
        days[kind][group] += n
    found: dict[Key, Earned] = defaultdict(Earned)
    for kind, earned in of_types.items():
        whole = days[kind].total()
        for group, n in days[kind].items():
            if n:
                had = found[group]
                found[group] = Earned(had.net + earned.net * n / whole, had.lines + earned.lines)
    return dict(found)


def _billed(period: Period, by: str) -> dict[Any, Earned]:
    rows = _lines(period).values_list(by).annotate(n=Sum("net"), lines=Count("pk"))
    return {key: Earned(Decimal(net), lines) for key, net, lines in rows}


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
    lots = lot_sums(period)
    mixed = mixes(sums.casts_by_place_and_type(period, path), held, settings, period, lots)
    all_days = sums.piece_days(period, "ours", lots=lots)[1]
    owned, days_owned = sum((cost * n for (_, cost), n in all_days.items()), Decimal(0)), all_days.total()
    days_out = sums.by_key(held)
    revenue = _billed(period, "bill__job" if by == "job" else "bill__job__customer")
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
                PieceDays(days_out[key], days_owned),
                mix=mixed.get(key, MixCost()),
                a_year=mixed[key].a_year if key in mixed else None,
                earned=revenue.get(key),
                financial=_of_cost(revenue.get(key), period, out[key]),
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
