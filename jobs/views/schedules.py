"""Bringing in a panel schedule: sent, looked at, then taken or dropped."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from inventory.views.access import allow
from jobs.errors import Refused
from jobs.forms.schedules import ScheduleForm
from jobs.models import Job
from jobs.selectors.faulty_cells import marked_rows
from jobs.services.schedule_files import blank_template
from jobs.services.schedules import preview_schedule, take_schedule
from jobs.views.jobs import PLANNERS

MOST_SHOWN = 200
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def _kept(job: Job) -> str:
    return f"schedule of job {job.pk}"


@allow(*PLANNERS)
def bring(request: HttpRequest, pk: int) -> HttpResponse:
    job = get_object_or_404(Job, pk=pk)
    form = ScheduleForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        request.session[_kept(job)] = form.rows
        return redirect("job-schedule-preview", pk)
    return render(request, "jobs/schedule.html", {"title": "Bring in a panel schedule", "job": job, "form": form})


@allow(*PLANNERS)
def preview(request: HttpRequest, pk: int) -> HttpResponse:
    job = get_object_or_404(Job, pk=pk)
    rows = request.session.get(_kept(job))
    if rows is None:
        messages.warning(request, "There is no schedule to look at. Bring in the file first.")
        return redirect("job-schedule", pk)
    if request.method == "POST":
        return _settle(request, job)
    found = preview_schedule(job=job, rows=rows)
    table = sorted(marked_rows(rows, found.findings), key=lambda line: not line.is_faulty)
    context = {
        "title": "Panel schedule, before it is taken",
        "job": job,
        "preview": found,
        "table": table[:MOST_SHOWN],
        "rows": len(table),
        "most_shown": MOST_SHOWN,
        "findings": found.findings[:MOST_SHOWN],
    }
    return render(request, "jobs/schedule_preview.html", context)


def _settle(request: HttpRequest, job: Job) -> HttpResponse:
    """Take it, or drop it."""
    rows = request.session.pop(_kept(job))
    if request.POST.get("press") != "take":
        messages.info(request, "The schedule is dropped. Nothing was changed.")
        return redirect("job-schedule", job.pk)
    try:
        taken = take_schedule(job=job, rows=rows)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("job-schedule", job.pk)
    said = f"{len(taken.new):,} new, {len(taken.changed):,} changed, {len(taken.same):,} the same."
    messages.success(request, f"The schedule is taken: {said}")
    return redirect("job", job.pk)


@allow(*PLANNERS)
def template(request: HttpRequest) -> HttpResponse:
    response = HttpResponse(blank_template(), content_type=XLSX)
    response["Content-Disposition"] = 'attachment; filename="panel-schedule.xlsx"'
    return response
