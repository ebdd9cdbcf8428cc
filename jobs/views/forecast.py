"""How many of each type stay fit three, six and twelve months on, and what to buy."""

from __future__ import annotations

from decimal import Decimal

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.models import YardSettings
from inventory.models.roles import Role
from inventory.views.access import allow
from inventory.views.summed import as_of
from jobs.selectors.forecast import MONTHS, look_ahead
from jobs.views.figure_charts import Bar, bar_chart
from jobs.views.figures import drawn

MOST_BARS = 20


@allow(Role.MANAGER, Role.PLANNER)
def forecast(request: HttpRequest) -> HttpResponse:
    summed, rows = as_of(), look_ahead(timezone.localdate())
    said = [row for row in rows if row.ahead]
    bars = [Bar(row.kind.code, row.ahead[-1].mean, row.ahead[-1].low, row.ahead[-1].high) for row in said[:MOST_BARS]]
    context = {
        "title": "Forecast",
        "rows": rows,
        "buys": [row for row in rows if row.buy],
        "cost": sum((row.cost for row in rows if row.cost is not None), Decimal(0)),
        "unsaid": len(rows) - len(said),
        "months": MONTHS,
        "chart": drawn(bar_chart(bars, "Fit pieces a year on", "pieces")) if bars else "",
        "currency": YardSettings.current().currency,
        **summed,
    }
    return render(request, "figures/forecast.html", context)
