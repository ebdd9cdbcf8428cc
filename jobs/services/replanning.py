"""A job accepted and not sent yet, written anew: its runs and its load lists as a joint plan composed them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.db import transaction

from inventory.models import GearType, Person
from jobs.errors import Refused
from jobs.models import CoverCheck, Job
from jobs.planning.availability import Steps
from jobs.planning.goods import GoodsNeed, against, level
from jobs.planning.remedies.question import Remedy
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.request_json import stored_request
from jobs.selectors.beside import beside_of
from jobs.selectors.cover import build_request, digest_of, goods_of, request_as_json
from jobs.selectors.cutlist import cut_list
from jobs.selectors.goods import goods_for, stored_goods
from jobs.selectors.planned import lengths_planned
from jobs.selectors.plans import read_plan
from jobs.selectors.pours import job_calendar
from jobs.selectors.remedies import short_answer
from jobs.selectors.stock import back_on
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


def with_articles(remedy: Remedy, timeline: Timeline, today: date, now: datetime) -> Remedy:
    """A joint plan with what changes beside the edge forms: other joints want other plates, and pieces brackets.

    Where that leaves one of the jobs short of an article it was not short of, or the new one, whose `timeline` this is,
    short of any once the others have theirs, the remedy does not turn the answer.
    """
    if not remedy.turns:
        return remedy
    jobs = {job.code: job for job in Job.objects.filter(code__in=[line["job"] for line in remedy.lines])}
    plans = [_built(jobs[line["job"]], line, None, today, now) for line in remedy.lines]
    changes = [list(_articles(plan, today)) for plan in plans]
    lines = tuple({**line, "articles": own} for line, own in zip(remedy.lines, changes, strict=True))
    more = [_More(plan.job, own, today) for plan, own in zip(plans, changes, strict=True)]
    short = [words for plan, own in zip(plans, changes, strict=True) for words in _short_beside(plan, own, more)]
    short += _short_then(remedy, timeline, more)
    if not short:
        return replace(remedy, lines=lines)
    sentence = f"Composed anew together the edge forms fit, but then these are lacking: {', '.join(short)}."
    sure = "Counted for the runs of that plan."
    return replace(remedy, turns=False, proved=False, sentence=sentence, sure=sure, lines=lines)


@dataclass(frozen=True)
class _More:
    """How many more of each article a job takes with the joint plan, and until when; less is not counted on."""

    job: Job
    changes: Sequence[Mapping[str, Any]]
    today: date

    def taken(self, code: str) -> int:
        return sum(max(0, each["then"] - each["now"]) for each in self.changes if each["code"] == code)

    @cached_property
    def until(self) -> date:
        return back_on(self.job, self.today, job_calendar(self.job, self.today)) or date.max


def _less(stock: Steps, code: str, others: Sequence[_More], used_up: bool) -> Steps:
    """On hand once others take so many more, from now until theirs are back and clean; what is used up, for good."""
    gone = [(date.max if used_up else other.until, count) for other in others if (count := other.taken(code))]
    if not gone or not stock:
        return stock
    days = sorted({day for day, _ in stock} | {until for until, _ in gone if stock[0][0] < until < date.max})
    return tuple((day, max(0, level(stock, day) - sum(n for until, n in gone if day < until))) for day in days)


def _short_beside(plan: CoverCheck, own: Sequence[Mapping[str, Any]], more: Sequence[_More]) -> Iterator[str]:
    """What a job whose load list changes is short of that it is not short of now, once the others have theirs."""
    others = [each for each in more if each.job.pk != plan.job.pk]
    already = {each["code"]: each["lacked"] for each in own}
    for row in stored_goods(plan.goods):
        if row.type is None or row.short is None:
            continue
        need = GoodsNeed(row.what, False, row.used_up, row.need, row.send, Decimal(0))
        short = against(need, _less(row.stock, row.type.code, others, row.used_up)).short
        if short > already.get(row.type.code, row.short):
            yield f"{plan.job.code} {short} x {row.name}"


def _short_then(remedy: Remedy, timeline: Timeline, more: Sequence[_More]) -> Iterator[str]:
    """The same of the new job, which is to be short of nothing."""
    if timeline.counting is None:
        return
    days = timeline.spans({})
    for article in timeline.counting.count({**timeline.counting.runs, **remedy.runs}):
        left = replace(article, stock=_less(article.stock, article.code, more, article.used_up))
        if left.lack(days):
            yield f"this job {left.lack(days)} x {article.name}"


def _articles(plan: CoverCheck, today: date) -> Iterator[dict[str, Any]]:
    """Each article of which the new runs want another number: sent in all now and then, how many more lack, and how
    many lacked before."""
    job = plan.job
    present = goods_for(job, cut_list(job, lengths_planned(job)), today)
    before = {goods.type.pk: goods.as_json() for goods in present if goods.type}
    after = {row["type"]: row for row in plan.goods if row["type"]}
    types = GearType.objects.in_bulk([*before, *after])
    for pk, kind in sorted(types.items(), key=lambda item: item[1].code):
        old, new = before.get(pk, {}), after.get(pk, {})
        lacked = old.get("short") or 0
        lack = max(0, (new.get("short") or 0) - lacked)
        if old.get("send", 0) != new.get("send", 0) or lack:
            sent = {"now": old.get("send", 0), "then": new.get("send", 0)}
            yield {"code": kind.code, "name": kind.name, **sent, "short": lack, "lacked": lacked}


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
