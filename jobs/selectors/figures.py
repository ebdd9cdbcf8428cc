"""The figures as the page shows them: groups named, rates with their bands, revenue from issued bills, margins."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Sum

from inventory.figures.cost import per_use
from inventory.figures.rates import Rate, wilson
from inventory.figures.survival import Curve
from inventory.figures.utilisation import Utilisation, financial_utilisation
from inventory.models import GearType
from inventory.selectors import figures as sums
from inventory.selectors.figures import Key, Lived, Period, Tally, month_after
from inventory.selectors.figures_of_types import curves
from jobs.models import BillLine, Job

GEAR_LINES = ("hire", "use")
"""Lines of a bill that gear earned: hire and per-use charges, as the trade's financial utilisation wants them."""
BY = {"type": "type", "age": "year bought", "batch": "maker's batch", "job": "job", "customer": "customer"}


@dataclass(frozen=True, slots=True)
class Row:
    """One group. Rates are over the period; lives and costs over all time; None where it does not apply."""

    key: Key
    label: str
    tally: Tally
    damage: Rate
    loss: Rate
    lived: Lived | None = None
    used: Utilisation | None = None
    curve: Curve | None = None
    revenue: Decimal | None = None
    gear_cost: Decimal | None = None
    financial: Decimal | None = None

    @property
    def cost_per_use(self) -> Decimal | None:
        return None if self.lived is None else per_use(self.lived.spent, self.lived.uses)

    @property
    def margin(self) -> Decimal | None:
        if self.revenue is None or self.gear_cost is None:
            return None
        return self.revenue - self.gear_cost

    @property
    def used_percent(self) -> Decimal | None:
        return None if self.used is None or self.used.share is None else self.used.share * 100

    @property
    def financial_percent(self) -> Decimal | None:
        return None if self.financial is None else self.financial * 100


def rows(period: Period, by: str, clean_cost: Decimal) -> list[Row]:
    """The groups of one kind, those cast most first."""
    found = _of_jobs(period, by, clean_cost) if by in ("job", "customer") else _of_pieces(period, by, clean_cost)
    return sorted(found, key=lambda row: (-row.tally.casts, row.label))


def _of_pieces(period: Period, by: str, clean_cost: Decimal) -> list[Row]:
    tallies, lived, used = sums.tallies(period, by), sums.lived(by, clean_cost), sums.utilisation(period, by)
    of_types = curves() if by == "type" else {}
    revenue = _revenue_by_code(period) if by == "type" else {}
    names = _names(by, {*tallies, *lived})
    found = []
    for key, (label, code) in names.items():
        tally, life = tallies.get(key, Tally()), lived.get(key)
        earned = revenue.get(code)
        price = life.spent.bought if life is not None else Decimal(0)
        found.append(
            Row(
                key,
                label,
                tally,
                wilson(tally.damaged, tally.casts),
                wilson(tally.lost, tally.casts),
                life,
                used.get(key),
                of_types.get(key) if isinstance(key, int) else None,
                earned,
                financial=financial_utilisation(earned, period.days, price) if earned is not None else None,
            )
        )
    return found


def _names(by: str, keys: set[Key]) -> dict[Key, tuple[str, str]]:
    """What each group is called, and its code where it is a type; crates are no gear to judge."""
    if by == "type":
        kinds = GearType.objects.in_bulk([key for key in keys if isinstance(key, int)])
        return {pk: (f"{kind.code} {kind.name}", kind.code) for pk, kind in kinds.items() if not kind.is_crate}
    if by == "batch":
        return {key: (str(key) or "no batch given", "") for key in keys}
    return {key: ("not known" if key is None else str(key), "") for key in keys}


def _revenue_by_code(period: Period) -> dict[str, Decimal]:
    codes = _lines(period).values_list("type_code").annotate(n=Sum("net"))
    return {code: Decimal(net) for code, net in codes}


def _lines(period: Period) -> Any:
    """Lines that gear earned on what was issued for periods that begin within it; credit notes count against."""
    return BillLine.objects.filter(
        bill__issued_at__isnull=False,
        bill__period_from__gte=period.first,
        bill__period_from__lt=period.after,
        kind__in=GEAR_LINES,
    ).order_by()


def _of_jobs(period: Period, by: str, clean_cost: Decimal) -> list[Row]:
    """By the site where the casts were made; the gear's cost is its type's cost of a use, over all time."""
    costs = {key: per_use(life.spent, life.uses) for key, life in sums.lived("type", clean_cost).items()}
    at_sites: dict[int, Tally] = defaultdict(Tally)
    gear: dict[int, Decimal] = defaultdict(Decimal)
    for (place, kind), tally in sums.tallies_by_place_and_type(period).items():
        if place is not None:
            at_sites[place] += tally
            gear[place] += (costs.get(kind) or Decimal(0)) * tally.casts
    revenue = dict(_lines(period).values_list("bill__job").annotate(n=Sum("net")))
    jobs = Job.objects.filter(site__in=at_sites) | Job.objects.filter(pk__in=revenue)
    heaps: dict[int, list[Job]] = defaultdict(list)
    for job in jobs.select_related("customer").distinct():
        heaps[job.pk if by == "job" else job.customer_id].append(job)
    return [_job_row(pk, some, by, at_sites, gear, revenue) for pk, some in heaps.items()]


def _job_row(
    pk: int, jobs: list[Job], by: str, at_sites: dict[int, Tally], gear: dict[int, Decimal], revenue: dict[int, Any]
) -> Row:
    tally = sum((at_sites.get(job.site_id, Tally()) for job in jobs), Tally())
    label = str(jobs[0]) if by == "job" else str(jobs[0].customer)
    billed = [Decimal(revenue[job.pk]) for job in jobs if job.pk in revenue]
    return Row(
        pk,
        label,
        tally,
        wilson(tally.damaged, tally.casts),
        wilson(tally.lost, tally.casts),
        revenue=sum(billed, Decimal(0)) if billed else None,
        gear_cost=sum((gear.get(job.site_id, Decimal(0)) for job in jobs), Decimal(0)),
    )


def months_of(period: Period) -> list[date]:
    found = [period.first]
    while (after := month_after(found[-1])) < period.after:
        found.append(after)
    return found
