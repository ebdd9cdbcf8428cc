"""A job accepted and not sent yet, written anew: its runs and its load lists as a joint plan composed them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from django.db import transaction

from inventory.models import Person
from jobs.errors import Refused
from jobs.models import CoverCheck, Job
from jobs.selectors.beside import beside_of
from jobs.selectors.cover import build_request, digest_of, goods_of, request_as_json
from jobs.selectors.plans import read_plan
from jobs.selectors.pours import job_calendar
from jobs.selectors.remedies import short_answer
from jobs.selectors.waiting import Arrivals
from jobs.services.accepting import write_plan


@transaction.atomic
def replan_job(*, job: Job, line: Mapping[str, Any], by: Person | None, today: date, now: datetime) -> CoverCheck:
    """Keeps the joint plan's part of this job as a check of its own, and reserves what it sends.

    Raises Refused ("already-sent") once a docket is open for it.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    if job.stage != Job.Stage.ACCEPTED or job.deliveries.exclude(docket=None).exists():
        raise Refused("already-sent", f"{job} is sent or no longer accepted: its load lists stay as they are.")
    check = _kept(job, line, by, today, now)
    write_plan(read_plan(check), job, job_calendar(job), today)
    return check


def _kept(job: Job, line: Mapping[str, Any], by: Person | None, today: date, now: datetime) -> CoverCheck:
    """The plan as an answered check: its question is the job's own, with what the joint plan gives it on hand.

    Sections that the joint plan left alone keep the runs they have.
    """
    arrivals = Arrivals(job, today, job_calendar(job, today))
    first_uses = [arrivals.on_site(date.fromisoformat(day)) for day in line["trucks"]]
    own = build_request(job, today)
    stock = {code: list(zip(first_uses, levels, strict=True)) for code, levels in line["held"].items()}
    request = own.with_stock({**stock})
    answer = _with_runs_kept(job, line["answer"])
    as_asked = request_as_json(request)
    check = CoverCheck(
        job=job,
        asked_at=now,
        asked_by=by,
        answered_at=now,
        state=CoverCheck.State.ANSWERED,
        progress=100,
        digest=digest_of(request_as_json(own)),
        request=as_asked,
        answer=answer,
        covered=True,
    )
    check.goods = goods_of(check, today)
    check.beside = beside_of(job, request, replace(short_answer(check), short=()), today)
    check.save()
    return check


def _with_runs_kept(job: Job, answer: Mapping[str, Any]) -> dict[str, Any]:
    """The joint plan's runs, and for sides it says nothing of, those that were planned before."""
    made = {str(run["side"]): run for run in answer["runs"]}
    for panel in job.panels.select_related("pour").prefetch_related("planned_runs"):
        for run in panel.planned_runs.all():
            key = f"{panel.mark}/{run.side + 1}"
            made.setdefault(key, {"pour": panel.pour.name, "side": key, "pieces": run.pieces})
    return {**answer, "runs": list(made.values())}
