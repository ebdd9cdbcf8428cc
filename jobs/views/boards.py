"""The page each role lands on when it signs in: how things stand, then the one thing to do next."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone

from inventory.forms.scanning import Doing
from inventory.models import YardSettings
from inventory.models.roles import Role, roles_of
from inventory.views.access import may, signed_in
from inventory.views.navigation import entries
from jobs.selectors import boards
from jobs.selectors.slab import slabs
from jobs.selectors.upkeep import cast_uncleaned


@signed_in
def board(request: HttpRequest) -> HttpResponse:
    """One board a role; who has several sees them one under another."""
    roles = roles_of(request.user)
    context: dict[str, Any] = {
        "title": YardSettings.current().business_name,
        "today": timezone.localdate(),
        "links": _links(request),
        "pages": [entry for entry in entries(request) if not entry.here],
    }
    outs = boards.out_by_job() if roles & {Role.MANAGER, Role.HIRE_DESK} else []
    for role, build in BUILDERS.items():
        if role in roles:
            context[build.__name__.strip("_")] = build(outs)
    return render(request, "boards/board.html", context)


def _hand(_outs: list[boards.Out]) -> dict[str, Any]:
    dockets = boards.open_dockets()
    return {
        "ways": Doing.choices,
        "loading": [docket for docket in dockets if docket.stage == "loading"],
        "road": [docket for docket in dockets if docket.stage == "on the road"],
    }


def _lead(_outs: list[boards.Out]) -> dict[str, Any]:
    today = timezone.localdate()
    found = slabs(today)
    return {
        "slabs": found[:6],
        "today": sum(1 for slab in found if slab.pour.cast_on == today),
        "waiting": len(found),
        "unfit": sum(slab.unfit for slab in found),
    }


def _manager(outs: list[boards.Out]) -> dict[str, Any]:
    today = timezone.localdate()
    return {
        "counts": boards.yard_counts(outs),
        "overdue": [out for out in outs if out.is_overdue(today)],
        "due": [out for out in outs if out.is_due(today)],
        "outs": outs,
        "dockets": boards.open_dockets(),
        "uncleaned": cast_uncleaned()[:8],
        "first_steps": boards.first_steps(),
    }


def _planner(_outs: list[boards.Out]) -> dict[str, Any]:
    asked = [{"job": job, "words": boards.answer_words(job)} for job in boards.jobs_asked()[:30]]
    unanswered = [row for row in asked if row["words"] not in ("covered", "short")]
    return {"asked": asked, "short": sum(row["words"] == "short" for row in asked), "unanswered": len(unanswered)}


def _desk(outs: list[boards.Out]) -> dict[str, Any]:
    having = boards.by_customer(outs)
    return {"having": having, "pieces": sum(each.pieces for each in having)}


BUILDERS = {
    Role.HAND: _hand,
    Role.SITE_LEAD: _lead,
    Role.MANAGER: _manager,
    Role.PLANNER: _planner,
    Role.HIRE_DESK: _desk,
}


def _links(request: HttpRequest) -> dict[str, str]:
    """Where each number of a board is listed; empty where the reader may not go."""
    return {
        "dirty": _link(request, "pieces", state="dirty"),
        "unfit": _link(request, "pieces", state="unfit"),
        "road": _link(request, "dockets", stage="road"),
        "loading": _link(request, "dockets", stage="loading"),
        "review": _link(request, "review"),
        "slab": _link(request, "slab"),
        "asked": _link(request, "jobs", stage="asked"),
        "jobs": _link(request, "jobs"),
        "customers": _link(request, "customers"),
        "bills": _link(request, "bills"),
    }


def _link(request: HttpRequest, name: str, **query: str) -> str:
    if not may(request.user, name):
        return ""
    try:
        address = reverse(name)
    except NoReverseMatch:
        return ""
    asked = QueryDict(mutable=True)
    asked.update(query)
    return f"{address}?{asked.urlencode()}" if query else address
