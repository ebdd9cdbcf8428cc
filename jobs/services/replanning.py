"""A job accepted and not sent yet, written anew: its runs and its load lists as a joint plan composed them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from django.db import transaction

from inventory.models import GearType, Person
from jobs.errors import Refused
from jobs.models import CoverCheck, Job
from jobs.planning.remedies.question import Remedy
from jobs.planning.request_json import stored_request
from jobs.selectors.beside import beside_of
from jobs.selectors.cover import build_request, digest_of, goods_of, request_as_json
from jobs.selectors.cutlist import cut_list
from jobs.selectors.goods import goods_for
from jobs.selectors.planned import lengths_planned
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
    check = _built(job, line, by, today, now)
    check.beside = beside_of(job, stored_request(check.request), replace(short_answer(check), short=()), today)
    check.save()
    write_plan(read_plan(check), job, job_calendar(job), today)
    return check


def with_articles(remedy: Remedy, today: date, now: datetime) -> Remedy:
    """A joint plan with what changes beside the edge forms: other joints want other plates, and pieces brackets.

    Where that leaves one of the jobs short of an article it was not short of, the remedy does not turn the answer.
    """
    lines, short = [], []
    for line in remedy.lines:
        job = Job.objects.get(code=line["job"])
        changes = list(_articles(job, line, today, now))
        lines.append({**line, "articles": changes})
        short += [f"{job.code} {each['short']} x {each['name']}" for each in changes if each["short"]]
    if not short:
        return replace(remedy, lines=tuple(lines))
    sentence = f"Composed anew together the edge forms fit, but then these are lacking: {', '.join(short)}."
    return replace(remedy, turns=False, proved=False, sentence=sentence, sure="Counted for the runs of that plan.")


def _articles(job: Job, line: Mapping[str, Any], today: date, now: datetime) -> Iterator[dict[str, Any]]:
    """Each article of which the new runs want another number: sent in all now and then, and how many more lack."""
    present = goods_for(job, cut_list(job, lengths_planned(job)), today)
    before = {goods.type.pk: goods.as_json() for goods in present if goods.type}
    after = {row["type"]: row for row in _built(job, line, None, today, now).goods if row["type"]}
    types = GearType.objects.in_bulk([*before, *after])
    for pk, kind in sorted(types.items(), key=lambda item: item[1].code):
        old, new = before.get(pk, {}), after.get(pk, {})
        lack = (new.get("short") or 0) - (old.get("short") or 0)
        if old.get("send", 0) != new.get("send", 0) or lack > 0:
            sent = {"now": old.get("send", 0), "then": new.get("send", 0)}
            yield {"code": kind.code, "name": kind.name, **sent, "short": max(0, lack)}


def _built(job: Job, line: Mapping[str, Any], by: Person | None, today: date, now: datetime) -> CoverCheck:
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
    return check


def _with_runs_kept(job: Job, answer: Mapping[str, Any]) -> dict[str, Any]:
    """The joint plan's runs, and for sides it says nothing of, those that were planned before."""
    made = {str(run["side"]): run for run in answer["runs"]}
    for panel in job.panels.select_related("pour").prefetch_related("planned_runs"):
        for run in panel.planned_runs.all():
            key = f"{panel.mark}/{run.side + 1}"
            made.setdefault(key, {"pour": panel.pour.name, "side": key, "pieces": run.pieces})
    return {**answer, "runs": list(made.values())}
