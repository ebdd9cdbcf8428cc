"""The cover check: asked, watched while a worker answers it, read, and decided on."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRefresh

from inventory.errors import Refused as NotTaken
from inventory.services.work import ask_to_cancel
from inventory.views.access import allow
from inventory.views.who import person_of
from jobs.errors import Refused
from jobs.forms.deciding import AcceptShortForm
from jobs.models import CoverCheck, Delivery, Job
from jobs.planning.findings import pour_words
from jobs.selectors.beside import instead_of, proof_sentences, saving_of
from jobs.selectors.chases import not_in_time
from jobs.selectors.cover import is_stale
from jobs.selectors.drawn import pours_of
from jobs.selectors.goods import short_of, stored_goods, why_short
from jobs.selectors.levels import level_changes, sorted_out
from jobs.selectors.loads import trucks_of
from jobs.selectors.panels import planned_panels
from jobs.selectors.plans import Plan, changes_only, load_lines, read_plan, section_levels
from jobs.selectors.remedies import is_stale as is_search_stale
from jobs.selectors.remedy_page import listed
from jobs.selectors.verdict import verdict_of
from jobs.services.accepting import accept_job, decline_job
from jobs.services.checking import ask_check
from jobs.services.loading import open_delivery_docket, put_on_trucks
from jobs.tasks import answer_cover_check
from jobs.views.charts import step_chart
from jobs.views.jobs import LOOKERS, PLANNERS

# So many panels are drawn on the page itself; of more, so many pours are listed first.
FEW_PANELS, FIRST_POURS = 24, 40


@allow(*PLANNERS)
@require_POST
def ask(request: HttpRequest, pk: int) -> HttpResponse:
    job = get_object_or_404(Job, pk=pk)
    try:
        check = ask_check(job=job, by=person_of(request))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("job", pk)
    answer_cover_check.enqueue(check.pk)
    return redirect("check", check.pk)


def _check(pk: int) -> CoverCheck:
    return get_object_or_404(CoverCheck.objects.select_related("job__customer", "job__site", "job__yard"), pk=pk)


@allow(*LOOKERS)
def check(request: HttpRequest, pk: int) -> HttpResponse:
    found = _check(pk)
    context: dict[str, Any] = {"title": f"Does the stock cover {found.job.code}?", "check": found, "job": found.job}
    if found.state == CoverCheck.State.ANSWERED and found.answer:
        plan = read_plan(found)
        context |= _answer(plan, request.GET.get("pours") == "all")
        context |= _remedies(plan, context["stale"])
    return render(request, "jobs/check.html", context)


def _remedies(plan: Plan, stale: bool) -> dict[str, Any]:
    """The newest search for remedies, and what it came to; out of date where its check is."""
    found = plan.check
    short = (found.answer or {}).get("short") or short_of(found.goods)
    search = found.remedy_searches.first() if short else None
    late = not_in_time(found.job, timezone.localdate()) if short else []
    if search is None or not search.answer:
        return {"search": search, "not_in_time": late}
    helping, no_help = listed(search)
    stale = stale or is_search_stale(search, timezone.localdate(), plan)
    return {"search": search, "not_in_time": late, "helping": helping, "no_help": no_help, "search_stale": stale}


def _answer(plan: Plan, every: bool) -> dict[str, Any]:
    found = plan.check
    verdict, forms, today = verdict_of(plan), load_lines(plan), timezone.localdate()
    goods = stored_goods(found.goods)
    charts = [
        # Our own drawing: every text in it is escaped as it is drawn.
        (section, mark_safe(step_chart(levels, section, verdict.decides, verdict.day_words)), changes_only(levels))
        for section, levels in section_levels(plan).items()
    ]
    return {
        "verdict": verdict,
        "stale": is_stale(found, today, plan),
        "charts": charts,
        "proof": [*proof_sentences(found), *(why_short(row) for row in goods if row.short)],
        "forms": forms,
        "forms_short": [line for line in forms if line.short],
        "trucks": trucks_of(plan, found.job, today),
        "saving": saving_of(found),
        "instead": instead_of(found),
        "goods": goods,
        "goods_short": [row for row in goods if row.short],
        "changes": sorted_out(level_changes(planned_panels(found.job), plan.pieces)),
        **_pours(plan, every),
        "form": AcceptShortForm(),
        "decidable": found.job.stage in {Job.Stage.ASKED, Job.Stage.DECLINED},
    }


def _pours(plan: Plan, every: bool) -> dict[str, Any]:
    """All drawn where they are few; else each on a page of its own, and the first of them listed."""
    names = {str(run.pour) for run in plan.request.runs}
    few = plan.check.job.panels.count() <= FEW_PANELS
    pours = pours_of(plan, names if few else ())
    return {"pours": pours, "drawn": few, "first_pours": pours if every else pours[:FIRST_POURS]}


@allow(*LOOKERS)
def pour(request: HttpRequest, pk: int, name: str) -> HttpResponse:
    """One pour of an answered check, drawn."""
    found = _check(pk)
    if not found.answer:
        return redirect("check", pk)
    drawn = next((each for each in pours_of(read_plan(found), [name]) if each.name == name), None)
    if drawn is None:
        raise Http404(f"This check has no pour {name}.")
    return render(request, "jobs/check_pour.html", {"title": pour_words(name), "check": found, "pour": drawn})


@allow(*LOOKERS)
def part(request: HttpRequest, pk: int) -> HttpResponse:
    """What is fetched while it works; once it is over, or opened by hand, the whole page."""
    found = _check(pk)
    if not getattr(request, "htmx", False):
        return redirect("check", pk)
    if found.is_over:
        return HttpResponseClientRefresh()
    return render(request, "jobs/check_working.html", {"check": found})


@allow(*LOOKERS)
def still(request: HttpRequest, pk: int) -> HttpResponse:
    """Whether an answer still stands, fetched after the page of its job; opened by hand, the whole check."""
    found = _check(pk)
    if not getattr(request, "htmx", False):
        return redirect("check", pk)
    stale = bool(found.answer) and is_stale(found, timezone.localdate())
    return render(request, "jobs/check_still.html", {"stale": stale})


@allow(*PLANNERS)
@require_POST
def cancel(request: HttpRequest, pk: int) -> HttpResponse:
    try:
        ask_to_cancel(_check(pk))
        messages.info(request, "The check is asked to stop. Nothing was changed.")
    except NotTaken as refused:
        messages.warning(request, refused.sentence)
    return redirect("check", pk)


@allow(*PLANNERS)
@require_POST
def accept(request: HttpRequest, pk: int) -> HttpResponse:
    found = _check(pk)
    try:
        job = accept_job(check=found, though_short=request.POST.get("though_short", ""))
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("check", pk)
    messages.success(request, f"{job} is accepted, and its load list reserved.")
    return redirect("job", job.pk)


@allow(*PLANNERS)
@require_POST
def decline(request: HttpRequest, pk: int) -> HttpResponse:
    try:
        job = decline_job(job=get_object_or_404(Job, pk=pk))
        messages.info(request, f"{job} is declined. Nothing is reserved for it.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("job", pk)


@allow(*PLANNERS)
@require_POST
def open_docket(request: HttpRequest, pk: int) -> HttpResponse:
    delivery = get_object_or_404(Delivery.objects.select_related("job"), pk=pk)
    try:
        docket = open_delivery_docket(delivery=delivery, by=person_of(request))
    except (Refused, NotTaken) as refused:
        messages.error(request, refused.sentence)
        return redirect("job", delivery.job_id)
    messages.success(request, f"Docket {docket.number} is open, with the load list as what is wanted.")
    return redirect("docket", docket.pk)


@allow(*PLANNERS)
@require_POST
def load_rest(request: HttpRequest, pk: int) -> HttpResponse:
    """What no truck of the job carries yet, onto one."""
    job = get_object_or_404(Job, pk=pk)
    count = put_on_trucks(job=job, today=timezone.localdate())
    if count:
        messages.success(request, f"{count} article{'s' if count > 1 else ''} put on a truck.")
    else:
        messages.warning(request, "Nothing was put on: choose a type in the take-off rule of each article first.")
    return redirect("job", pk)
