"""The manager's week on one page, to print."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.models import YardSettings
from inventory.models.roles import Role
from inventory.views.access import allow
from inventory.views.days import day_said
from inventory.views.summed import as_of
from jobs.selectors.week import the_week


@allow(Role.MANAGER)
def week(request: HttpRequest) -> HttpResponse:
    """?from=2026-11-23 for another week; without it the last seven days, today included."""
    today = timezone.localdate()
    first = day_said(request.GET.get("from", "")) or today - timedelta(days=6)
    settings, summed = YardSettings.current(), as_of()
    found = the_week(first, _midnight(first), _midnight(first + timedelta(days=7)), today, settings.clean_cost)
    context = {
        "title": "The week",
        "week": found,
        "before": first - timedelta(days=7),
        "after": first + timedelta(days=7),
        "today": today,
        "spent": sum(money.amount for money in found.money if not money.earned),
        "earned": sum(money.amount for money in found.money if money.earned),
        "currency": settings.currency,
        **summed,
    }
    return render(request, "figures/week.html", context)


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time()))
