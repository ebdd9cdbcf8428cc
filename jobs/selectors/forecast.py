"""What each type's fleet comes to in the months ahead, against what jobs have reserved; and what to buy, by when."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from itertools import accumulate

from django.db.models import Min

from inventory.figures.forecast import Buy, Forecast, Use, exposures, forecast, to_buy
from inventory.models import GearType
from inventory.selectors import figures as sums
from inventory.selectors.figures import Key, Lots, Tally
from inventory.selectors.figures_of_types import fit_of_types, spans_of_types
from inventory.selectors.lot_sums import lot_sums
from inventory.selectors.periods import Period, month_after
from jobs.models import Job, LoadLine, PlannedRun, Supply

MONTHS = (3, 6, 12)
DAYS_A_MONTH = Decimal("30.4375")


@dataclass(frozen=True, slots=True)
class Ahead:
    """One type: fit now, casts seen and ends of service behind the forecast, the forecast, the need, what to buy.

    `needed_on` is the first day on which jobs have reserved that many; empty where what is out now is what is needed.
    """

    kind: GearType
    now: int
    casts: int
    ends: int
    a_month: float
    ahead: list[Forecast]
    need: int
    needed_on: date | None
    buy: Buy | None
    by: date | None
    cost: Decimal | None


def look_ahead(today: date) -> list[Ahead]:
    """Every tagged type we own: those to buy first, then those that can be forecast, then by name."""
    fleets, (seen, gone) = fit_of_types(), spans_of_types()
    period = Period(month_after(today, -12), month_after(today, 0))
    casts, owned = sums.tallies(period, "type", lots := lot_sums(period)), _piece_months(period, lots)
    planned, needs, out = _planned(today), _needs(today), sums.out_now_by_type()
    prices = _prices()
    kinds = GearType.objects.in_bulk(list(fleets)).values()
    found = []
    for kind in kinds:
        if kind.is_crate:
            continue
        bands = exposures(seen[kind.pk], gone[kind.pk])
        use = _use(casts.get(kind.pk, Tally()).casts, owned.get(kind.pk, 0.0), planned[kind.code], fleets[kind.pk])
        ahead = forecast(fleets[kind.pk], bands, use, MONTHS, seed=kind.pk)
        now, (need, needed_on) = sum(fleets[kind.pk].values()), needs.get(kind.pk, (out[kind.pk], None))
        buy = to_buy(need, now, ahead)
        price = prices.get(kind.pk, kind.replacement_value)
        found.append(
            Ahead(
                kind,
                now,
                sum(band.casts for band in bands),
                sum(band.ends for band in bands),
                use.casts / use.piece_months * now if use.piece_months else 0.0,
                ahead,
                need,
                needed_on,
                buy,
                max(month_after(today, buy.by_month), (needed_on or date.min).replace(day=1)) if buy else None,
                price * buy.pieces if buy else None,
            )
        )
    return sorted(found, key=lambda one: (one.buy is None, not one.ahead, one.by or date.max, one.kind.code))


def _piece_months(period: Period, lots: Lots) -> dict[Key, float]:
    return {
        kind: float(Decimal(n) / DAYS_A_MONTH)
        for kind, n in sums.by_key(sums.piece_days(period, "type", lots=lots)[1]).items()
    }


def _use(casts: int, piece_months: float, planned: list[int], fleet: Counter[int]) -> Use:
    """Month by month the greater of what is planned and what was usual, as far as the programme goes."""
    usual = casts / piece_months * sum(fleet.values()) if piece_months else 0.0
    return Use(casts, piece_months, tuple(max(count, round(usual)) for count in planned))


def _planned(today: date) -> dict[str, list[int]]:
    """Casts by type code and month from this one on, as the plans of accepted jobs have their runs."""
    runs = PlannedRun.objects.filter(
        panel__pour__cast_on__gte=today, panel__job__stage__in=[Job.Stage.ACCEPTED, Job.Stage.RUNNING]
    ).order_by()
    counts: dict[str, Counter[int]] = defaultdict(Counter)
    for cast_on, codes in runs.values_list("panel__pour__cast_on", "pieces"):
        at = (cast_on.year - today.year) * 12 + cast_on.month - today.month
        for code in codes:
            counts[code][at] += 1
    found: dict[str, list[int]] = defaultdict(list)
    for code, months in counts.items():
        found[code] = [months[at] for at in range(max(months) + 1)]
    return found


def _needs(today: date) -> dict[int, tuple[int, date]]:
    """By type, the most that accepted and running jobs have reserved on any one day from today on, and the first such
    day: before it nothing needs to be bought for it."""
    lines = LoadLine.objects.filter(delivery__job__stage__in=[Job.Stage.ACCEPTED, Job.Stage.RUNNING]).order_by()
    changes: dict[int, Counter[date]] = defaultdict(Counter)
    for kind, count, day, back, ends in lines.values_list(
        "type", "quantity", "delivery__load_on", "delivery__is_return", "delivery__job__ends_on"
    ):
        changes[kind][max(day, today)] += -count if back else count
        if ends is not None:
            changes[kind][max(ends + timedelta(days=1), today)] -= -count if back else count
    return {kind: _most(change, today) for kind, change in changes.items()}


def _most(change: Counter[date], today: date) -> tuple[int, date]:
    days = sorted(change)
    held = dict(zip(days, accumulate(change[day] for day in days), strict=True))
    first = max(days, key=lambda day: held[day], default=today)
    return max(0, held.get(first, 0)), first


def _prices() -> dict[int, Decimal]:
    rows = Supply.objects.filter(way=Supply.Way.BUY).order_by().values_list("type").annotate(n=Min("cost"))
    return {kind: Decimal(cost) for kind, cost in rows}
