"""The figures: what gear lives through and what it costs, with count, period and band; charts with their tables."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any, NamedTuple

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from inventory.figures.survival import kaplan_meier
from inventory.models import GearType, YardSettings
from inventory.models.roles import Role
from inventory.selectors import figures as sums
from inventory.selectors.figures import Key, Tally
from inventory.selectors.fleet_months import dirty_at_ends, fleet_months, happened, used_in
from inventory.selectors.periods import Period, month_after
from inventory.views.access import allow
from inventory.views.summed import as_of
from jobs.forms.figures import FiguresForm, usual
from jobs.selectors import figures as select
from jobs.selectors.upkeep import PlaceQueue, queues
from jobs.views.figure_charts import Bar, Column, bar_chart, column_chart, survival_chart
from jobs.views.figure_rows import charts_of

READERS = (Role.MANAGER, Role.PLANNER, Role.HIRE_DESK)


class Month(NamedTuple):
    """The fleet in one month; `used` is the per cent of its cost that was out, None where nothing was owned, over so
    many piece-days `owned`; `dirty` how many were dirty at its end."""

    month: date
    tally: Tally
    used: Decimal | None
    owned: int
    dirty: int


def drawn(svg: str) -> SafeString:
    """Our own drawing: every text in it is escaped as it is drawn."""
    return mark_safe(svg)


@allow(*READERS)
def figures(request: HttpRequest) -> HttpResponse:
    form = _form(request)
    context: dict[str, Any] = {"title": "Figures", "form": form, **as_of()}
    if form.is_valid():
        by, period = form.cleaned_data["by"], form.period
        settings = YardSettings.current()
        rows = select.rows(period, by, settings)
        busy = [row for row in rows if row.tally.casts or row.revenue is not None]
        context |= {"rows": busy, "idle": len(rows) - len(busy), "period": period, "currency": settings.currency}
        context |= _grouped(by) | _fleet(period, settings)
        context["charts"] = [(words, drawn(svg)) for words, svg in charts_of(busy, select.BY[by], settings.currency)]
    return render(request, "figures/figures.html", context)


def _form(request: HttpRequest) -> FiguresForm:
    said = {name: request.GET[name] for name in FiguresForm.base_fields if request.GET.get(name)}
    return FiguresForm(usual(timezone.localdate()) | said)


def _grouped(by: str) -> dict[str, Any]:
    shared = by in ("age", "batch")
    return {"by": by, "by_words": select.BY[by], "at_places": by in select.PLACES, "shared": shared}


def _fleet(period: Period, settings: YardSettings) -> dict[str, Any]:
    """The whole fleet: month by month, and in one line."""
    fleet, shown = fleet_months(period.after), period.months[-24:]
    months, dirty = happened(fleet, period.first), dirty_at_ends(fleet)
    used = used_in(fleet, [Period(month, min(month_after(month), period.after)) for month in shown])
    table = [
        Month(
            month,
            months.get(month, Tally()),
            used[at][0].percent,
            used[at][1],
            next((dirty[each] for each in sorted(dirty, reverse=True) if each <= month), 0),
        )
        for at, month in enumerate(shown)
    ]
    casts = [Column(f"{row.month:%b}", (row.tally.casts, row.tally.cleans)) for row in table]
    shares = [Column(f"{row.month:%b}", (float(row.used or 0),)) for row in table]
    backlog = [Column(f"{row.month:%b}", (float(row.dirty),)) for row in table]
    waiting = queues(timezone.localdate(), settings)
    return {
        "months": table,
        "total": sum(months.values(), Tally()),
        "casts_chart": drawn(column_chart(casts, ("casts", "cleanings"), "Casts and cleanings a month", "month")),
        "used_chart": drawn(column_chart(shares, ("per cent of cost out",), "Time utilisation", "month")),
        "dirty_chart": drawn(column_chart(backlog, ("pieces",), "Dirty at each month's end", "month")),
        "backlog": waiting,
        "backlog_chart": drawn(_backlog_chart(waiting)) if waiting else "",
    }


def _backlog_chart(waiting: list[PlaceQueue]) -> str:
    bars = [Bar(q.name, float(q.wait.waiting)) for q in waiting[:20]]
    return bar_chart(bars, "Dirty now, by place", "pieces")


@allow(*READERS)
def type_figures(request: HttpRequest, pk: int) -> HttpResponse:
    """How long one type lasts, and what it costs a use and a year."""
    kind = get_object_or_404(GearType, pk=pk)
    return _group(request, "type", kind.pk, f"{kind.code} {kind.name}")


@allow(*READERS)
def group_figures(request: HttpRequest) -> HttpResponse:
    """One group of any kind: ?by=batch&key=B1. Without a key, the way to the groups."""
    by, said = request.GET.get("by", ""), request.GET.get("key", "")
    if by not in select.BY or "key" not in request.GET:
        return render(request, "figures/which.html", {"title": "One group", "kinds": select.BY})
    key: Key = said
    if by != "batch":
        if said and not said.isdecimal():
            raise Http404
        key = int(said) if said else None
    return _group(request, by, key, None)


def _group(request: HttpRequest, by: str, key: Key, label: str | None) -> HttpResponse:
    form = _form(request)
    summed, settings = as_of(), YardSettings.current()
    period = form.period if form.is_valid() else FiguresForm.of_the_last_year()
    row = next((row for row in select.rows(period, by, settings) if row.key == key), None)
    if row is None and label is None:
        raise Http404
    curve = row.curve if row is not None and row.curve is not None else kaplan_meier([])
    spread = _in_tens(sorted(sums.uses_of(select.PLACES.get(by, by), key).items()))
    every = max(1, len(curve.steps) // 60)
    name = label or (row.label if row is not None else "")
    context = {
        "title": f"{name}: life and cost",
        "name": name,
        "row": row,
        "curve": curve,
        "steps": curve.steps[::every],
        "every": every,
        "chart": drawn(survival_chart(curve, name)) if curve.steps else "",
        "spread": spread,
        "spread_chart": drawn(_spread_chart(spread)) if spread else "",
        "period": period,
        "last": period.after - timedelta(days=1),
        "currency": settings.currency,
        **_grouped(by),
        **summed,
    }
    return render(request, "figures/group.html", context)


def _in_tens(spread: list[tuple[int, int]]) -> list[tuple[int, int, int]]:
    """(from, to, pieces) in steps of ten uses."""
    found: dict[int, int] = {}
    for uses, count in spread:
        found[uses // 10] = found.get(uses // 10, 0) + count
    return [(ten * 10, ten * 10 + 9, found.get(ten, 0)) for ten in range(max(found, default=-1) + 1)]


def _spread_chart(tens: list[tuple[int, int, int]]) -> str:
    columns = [Column(str(first), (float(count),)) for first, _, count in tens]
    return column_chart(columns, ("pieces",), "Pieces by uses they have had", "uses")
