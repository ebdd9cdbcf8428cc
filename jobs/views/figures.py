"""The figures: what gear lives through and what it costs, with count, period and band; charts with their tables."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from inventory.figures.cost import per_use, yearly
from inventory.figures.rates import Rate
from inventory.figures.survival import Curve
from inventory.models import GearType, YardSettings
from inventory.models.roles import Role
from inventory.selectors import figures as sums
from inventory.selectors.figures import Lived, Period, Tally
from inventory.selectors.figures_of_types import curve_of, uses_left
from inventory.views.access import allow
from inventory.views.summed import as_of
from jobs.forms.figures import FiguresForm, usual
from jobs.selectors import figures as select
from jobs.selectors.upkeep import queues
from jobs.views.figure_charts import Bar, Column, bar_chart, column_chart, survival_chart

READERS = (Role.MANAGER, Role.PLANNER, Role.HIRE_DESK)
MOST_BARS = 20


class Month(NamedTuple):
    """The fleet in one month; `used` is the per cent of its cost that was out, None where nothing was owned."""

    month: date
    tally: Tally
    used: Decimal | None


def drawn(svg: str) -> SafeString:
    """Our own drawing: every text in it is escaped as it is drawn."""
    return mark_safe(svg)


@allow(*READERS)
def figures(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    form = FiguresForm(
        usual(today) | {name: request.GET[name] for name in FiguresForm.base_fields if request.GET.get(name)}
    )
    context: dict[str, Any] = {"title": "Figures", "form": form, **as_of()}
    if form.is_valid():
        by, period = form.cleaned_data["by"], form.period
        settings = YardSettings.current()
        rows = select.rows(period, by, settings.clean_cost)
        busy = [row for row in rows if row.tally.casts or row.revenue is not None]
        context |= {"rows": busy, "idle": len(rows) - len(busy), "by": by, "by_words": select.BY[by], "period": period}
        context["currency"] = settings.currency
        context |= _fleet(rows, period, today) | _charts(rows)
    return render(request, "figures/figures.html", context)


def _fleet(rows: list[select.Row], period: Period, today: date) -> dict[str, Any]:
    """The whole fleet: month by month, and in one line."""
    months = sums.by_month(period)
    shown = [month for month in select.months_of(period) if month <= today][-24:]
    used = sums.used_by_month([Period(month, select.month_after(month)) for month in shown])
    table = [
        Month(month, months.get(month, Tally()), one.share * 100 if one.share is not None else None)
        for month, one in zip(shown, used, strict=True)
    ]
    casts = [Column(f"{row.month:%b}", (row.tally.casts, row.tally.cleans)) for row in table]
    shares = [Column(f"{row.month:%b}", (float(row.used or 0),)) for row in table]
    return {
        "months": table,
        "total": sum(months.values(), Tally()),
        "casts_chart": drawn(column_chart(casts, ("casts", "cleanings"), "Casts and cleanings a month", "month")),
        "used_chart": drawn(column_chart(shares, ("per cent of cost out",), "Time utilisation", "month")),
        "backlog": queues(today),
    }


def _charts(rows: list[select.Row]) -> dict[str, Any]:
    enough = [row for row in rows if not row.damage.too_few][:MOST_BARS]
    if not enough:
        return {}
    return {
        "damage_chart": drawn(
            bar_chart([_bar(row.label, row.damage) for row in enough], "Damage after 100 uses", "of 100 uses")
        ),
        "loss_chart": drawn(
            bar_chart([_bar(row.label, row.loss) for row in enough], "Loss after 100 uses", "of 100 uses")
        ),
    }


def _bar(label: str, rate: Rate) -> Bar:
    return Bar(label, rate.share * 100, rate.low * 100, rate.high * 100)


@allow(*READERS)
def type_figures(request: HttpRequest, pk: int) -> HttpResponse:
    """How long one type lasts, and what it costs a use and a year."""
    kind = get_object_or_404(GearType, pk=pk)
    summed, today = as_of(), timezone.localdate()
    settings = YardSettings.current()
    curve, life = curve_of(kind), sums.lived("type", settings.clean_cost).get(kind.pk, Lived())
    spread = sorted(sums.uses_of(Q(piece__type=kind, piece__hired_in=None)).items())
    context = {
        "title": f"{kind.code}: life and cost",
        "kind": kind,
        "curve": curve,
        "steps": curve.steps[:: max(1, len(curve.steps) // 60)],
        "chart": drawn(survival_chart(curve, kind.name)) if curve.steps else "",
        "life": life,
        "spread": _in_tens(spread),
        "spread_chart": drawn(_spread_chart(_in_tens(spread))),
        "cost_per_use": per_use(life.spent, life.uses),
        "currency": settings.currency,
        **_years(kind, curve, life, today, settings),
        **summed,
    }
    return render(request, "figures/type.html", context)


def _in_tens(spread: list[tuple[int, int]]) -> list[tuple[int, int, int]]:
    """(from, to, pieces) in steps of ten uses."""
    found: dict[int, int] = {}
    for uses, count in spread:
        found[uses // 10] = found.get(uses // 10, 0) + count
    return [(ten * 10, ten * 10 + 9, found.get(ten, 0)) for ten in range(max(found, default=-1) + 1)]


def _spread_chart(tens: list[tuple[int, int, int]]) -> str:
    columns = [Column(str(first), (float(count),)) for first, _, count in tens]
    return column_chart(columns, ("pieces",), "Pieces by uses they have had", "uses")


def _years(kind: GearType, curve: Curve, life: Lived, today: date, settings: YardSettings) -> dict[str, Any]:
    """Equivalent annual cost of one: its price over the years its expected uses last at this year's pace."""
    period = Period(select.month_after(today, -11), select.month_after(today))
    casts = sums.tallies(period, "type").get(kind.pk, Tally()).casts
    whole = uses_left(kind, curve, 0)
    a_year = casts / life.held if life.held else 0.0
    if not whole or not a_year:
        return {"whole": whole, "a_year": a_year, "eac": None}
    years = max(1, round(whole / a_year))
    keep = (life.spent.mended + life.spent.cleaned) / life.uses if life.uses else Decimal(0)
    salvage = settings.scrap_price_kg * kind.mass_kg
    running = keep * Decimal(str(a_year))
    eac = yearly(kind.replacement_value, salvage, settings.money_cost_percent / 100, years, running)
    return {"whole": whole, "a_year": a_year, "years": years, "eac": eac, "salvage": salvage, "running": running}
