"""Saying yes or no to a job. Yes reserves what the plan sends: the next job's check sees it gone."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from inventory.models import GearType
from jobs.calendars.working import WorkingCalendar
from jobs.errors import Refused
from jobs.models import CoverCheck, Delivery, Job, LoadLine, PlannedRun
from jobs.selectors.cover import is_stale
from jobs.selectors.loads import all_loads
from jobs.selectors.plans import Plan, read_plan
from jobs.selectors.pours import job_calendar
from jobs.services.inserts import keep_inserts


@transaction.atomic
def accept_job(
    *, check: CoverCheck, though_short: str = "", today: date | None = None, now: datetime | None = None
) -> Job:
    """Accepts the job of an answered check, and reserves its load list.

    A plan that is short is accepted only with a reason, which stays on the job. Raises Refused:
    "not-answered", "stale", "already-decided", "short".
    """
    job = Job.objects.select_for_update().get(pk=check.job_id)
    _refuse(check, job, though_short, today or timezone.localdate())
    plan = read_plan(check)
    calendar = job_calendar(job)
    write_plan(plan, job, calendar, today or timezone.localdate())
    if though_short:
        job.note = "\n".join(part for part in (job.note, f"Accepted though short: {though_short}") if part)
    job.stage, job.accepted_at = Job.Stage.ACCEPTED, now or timezone.now()
    job.save(update_fields=["stage", "accepted_at", "note"])
    return job


@transaction.atomic
def decline_job(*, job: Job) -> Job:
    """No to a job. What an accepted one had reserved is free again; gear already sent must come back first."""
    job = Job.objects.select_for_update().get(pk=job.pk)
    if job.stage not in {Job.Stage.ASKED, Job.Stage.ACCEPTED}:
        raise Refused("already-decided", f"This job is {job.stage}: it can no longer be declined.")
    if job.deliveries.exclude(docket=None).exists():
        raise Refused("already-sent", "A docket was opened for this job: cancel it, or bring its gear back first.")
    job.deliveries.all().delete()
    job.stage, job.accepted_at = Job.Stage.DECLINED, None
    job.save(update_fields=["stage", "accepted_at"])
    return job


def _refuse(check: CoverCheck, job: Job, though_short: str, today: date) -> None:
    if check.state != CoverCheck.State.ANSWERED:
        raise Refused("not-answered", "This check has no answer yet: wait for it, or ask again.")
    if job.stage not in {Job.Stage.ASKED, Job.Stage.DECLINED}:
        raise Refused("already-decided", f"This job is {job.stage} already.")
    if is_stale(check, today):
        raise Refused("stale", "Panels, dates or stock have changed since this check: check again, then accept.")
    if not check.covered and not though_short.strip():
        raise Refused("short", "The stock does not cover this job: give the reason why you accept it all the same.")


def write_plan(plan: Plan, job: Job, calendar: WorkingCalendar, today: date) -> None:
    """The runs of a plan, and the deliveries that reserve its gear, in place of those there were."""
    keep_inserts(job)
    _write_runs(plan, job)
    _write_deliveries(plan, job, calendar, today)


def _write_runs(plan: Plan, job: Job) -> None:
    panels = {panel.mark: panel for panel in job.panels.all()}
    PlannedRun.objects.filter(panel__job=job).delete()
    rows = []
    for key, codes in plan.pieces.items():
        mark, _, number = key.rpartition("/")
        rows.append(PlannedRun(panel=panels[mark], side=int(number) - 1, pieces=list(codes)))
    PlannedRun.objects.bulk_create(rows)


def _write_deliveries(plan: Plan, job: Job, calendar: WorkingCalendar, today: date) -> None:
    job.deliveries.filter(docket=None).delete()
    out, back = all_loads(plan, job, calendar, today)
    ids = dict(GearType.objects.values_list("code", "pk"))
    for loads, is_return in ((out, False), (back, True)):
        for day, counts in sorted(loads.items()):
            delivery = Delivery.objects.create(job=job, load_on=day, is_return=is_return)
            LoadLine.objects.bulk_create(
                LoadLine(delivery=delivery, type_id=ids[code], quantity=count) for code, count in sorted(counts.items())
            )
