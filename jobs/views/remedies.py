"""What would make a short job fit: looked for, watched, looked at, and set going by one press."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRefresh

from inventory.errors import Refused as NotTaken
from inventory.models import YardSettings
from inventory.services.work import ask_to_cancel
from inventory.views.access import allow
from inventory.views.exporting import csv_response
from inventory.views.who import person_of
from jobs.errors import Refused
from jobs.models import CoverCheck, Job, RemedySearch
from jobs.selectors.remedies import is_stale
from jobs.selectors.remedy_page import PRESSES, TITLES, shown
from jobs.selectors.remedy_rows import export_rows
from jobs.services.applying import apply_remedy, remedy_named
from jobs.services.checking import ask_check
from jobs.services.remedying import ask_remedies
from jobs.tasks import answer_cover_check, answer_remedy_search
from jobs.views.jobs import LOOKERS, PLANNERS


@allow(*PLANNERS)
@require_POST
def ask(request: HttpRequest, pk: int) -> HttpResponse:
    check = get_object_or_404(CoverCheck.objects.select_related("job"), pk=pk)
    try:
        search = ask_remedies(check=check, by=person_of(request))
        answer_remedy_search.enqueue(search.pk)
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("check", pk)


def _search(pk: int) -> RemedySearch:
    return get_object_or_404(RemedySearch.objects.select_related("check_asked__job"), pk=pk)


@allow(*LOOKERS)
def part(request: HttpRequest, pk: int) -> HttpResponse:
    """What is fetched while it works; once it is over, or opened by hand, the whole page."""
    search = _search(pk)
    if not getattr(request, "htmx", False):
        return redirect("check", search.check_asked_id)
    if search.is_over:
        return HttpResponseClientRefresh()
    return render(request, "jobs/remedies_working.html", {"search": search})


@allow(*PLANNERS)
@require_POST
def cancel(request: HttpRequest, pk: int) -> HttpResponse:
    search = _search(pk)
    try:
        ask_to_cancel(search)
        messages.info(request, "The search is asked to stop. Nothing was changed.")
    except NotTaken as refused:
        messages.warning(request, refused.sentence)
    return redirect("check", search.check_asked_id)


@allow(*LOOKERS, write=PLANNERS)
def remedy(request: HttpRequest, pk: int, name: str) -> HttpResponseBase:
    """GET shows what it takes and what it changes; POST sets it going."""
    search = _search(pk)
    if request.method == "POST":
        return _apply(request, search, name)
    try:
        found = remedy_named(search, name)
    except Refused as refused:
        raise Http404(refused.sentence) from refused
    currency = (search.question or {}).get("currency") or YardSettings.current().currency
    if request.GET.get("export") == "csv":
        return csv_response(iter(export_rows(found, currency)), f"{name}-{search.check_asked.job.code}")
    job = search.check_asked.job
    context: dict[str, Any] = {
        "title": f"{TITLES[name]}: {job.code}",
        "search": search,
        "job": job,
        "name": name,
        "shown": shown(search, found),
        "press": PRESSES.get(name),
        "currency": currency,
        "stale": is_stale(search, timezone.localdate()),
        "applied": search.applied.get(name),
    }
    return render(request, "jobs/remedy.html", context)


def _apply(request: HttpRequest, search: RemedySearch, name: str) -> HttpResponse:
    """Done, the job is checked again at once; not after gear is asked back, which counts from the day promised."""
    try:
        messages.success(request, apply_remedy(search=search, name=name, by=person_of(request)))
        if name != "chase":
            check = ask_check(job=Job.objects.get(pk=search.check_asked.job_id), by=person_of(request))
            answer_cover_check.enqueue(check.pk)
            return redirect("check", check.pk)
    except (Refused, NotTaken) as refused:
        messages.error(request, refused.sentence)
    return redirect("check", search.check_asked_id)
