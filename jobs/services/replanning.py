"""A job accepted and not sent yet, written anew: its runs and its load lists as a joint plan composed them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction

from inventory.models import GearType, Person
from jobs.errors import Refused
from jobs.models import CoverCheck, Job
from jobs.planning.goods import level
from jobs.planning.limits import Limits
from jobs.planning.remedies.more_words import replan_words
from jobs.planning.remedies.question import Remedy
from jobs.planning.remedies.replan import Together, of_fewest_joints, recomposed
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.request_json import stored_request
from jobs.selectors.beside import beside_of
from jobs.selectors.cover import build_request, digest_of, goods_of, request_as_json
from jobs.selectors.cutlist import cut_list
from jobs.selectors.goods import Goods, goods_for
from jobs.selectors.loads import load_list
from jobs.selectors.planned import lengths_planned
from jobs.selectors.plans import Plan, read_plan
from jobs.selectors.pours import job_calendar
from jobs.selectors.remedies import short_answer
from jobs.selectors.stock import Instead, Load, stock_for
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


def with_articles(remedy: Remedy, check: CoverCheck, timeline: Timeline, today: date, now: datetime) -> Remedy:
    """A joint plan with what changes beside the edge forms: other joints want other plates, and pieces brackets.

    Counted with every load list as the press would write it, day by day. Where that leaves one of the jobs short of an
    article it was not short of, or the new one, of whose `check` and `timeline` this is a remedy, short of any, the
    remedy does not turn the answer.
    """
    if not remedy.turns:
        return remedy
    jobs = {job.code: job for job in Job.objects.filter(code__in=[line["job"] for line in remedy.lines])}
    plans = [read_plan(_built(jobs[line["job"]], line, None, today, now)) for line in remedy.lines]
    written: dict[Job, Sequence[Load]] = {}
    for plan in plans:
        written[plan.check.job] = load_list(plan, plan.check.job, today, written)
    changes = [list(_articles(plan, today, written)) for plan in plans]
    lines = tuple({**line, "articles": own} for line, own in zip(remedy.lines, changes, strict=True))
    short = [
        f"{plan.check.job.code} {each['short']} x {each['name']} from {_said(date.fromisoformat(each['first']))}"
        for plan, own in zip(plans, changes, strict=True)
        for each in own
        if each["short"]
    ]
    short += _short_then(remedy, check.job, timeline, today, written)
    if not short:
        return replace(remedy, lines=lines)
    sentence = f"Composed anew together the edge forms fit, but then these are lacking: {', '.join(short)}."
    sure = (
        "Counted for the runs of that plan, for runs of the fewest joints within the same load lists, and for the load "
        "lists that want the fewest joints."
    )
    return replace(remedy, turns=False, proved=False, sentence=sentence, sure=sure, lines=lines)


def with_fewer_joints(remedy: Remedy, together: Together, limits: Limits) -> Remedy:
    """The same load lists with every run made of the fewest pieces they allow, which need the fewest plates."""
    held = {line["job"]: {code: tuple(levels) for code, levels in line["held"].items()} for line in remedy.lines}
    return replan_words(recomposed(together, held, limits), len(together.others))


def with_other_load_lists(together: Together, limits: Limits) -> Remedy:
    """Of all joint plans one of the fewest joints, and so of the fewest plates, whatever it changes."""
    found = replan_words(of_fewest_joints(together, limits), len(together.others))
    if not found.turns:
        return found
    sure = (
        "Each plan has passed the independent check. The plan that changes the load lists least wants articles that "
        "are not there; this one has the fewest joints, within what whole pieces allow."
    )
    return replace(found, sure=sure)


def _short_then(remedy: Remedy, job: Job, timeline: Timeline, today: date, written: Instead) -> Iterator[str]:
    """What the new job is short of once the others' load lists are written so."""
    if timeline.counting is None:
        return
    days = timeline.spans({})
    articles = timeline.counting.count({**timeline.counting.runs, **remedy.runs})
    last = max(job.ends_on or date.min, *(until for _, until in days.values()))
    span = (min(start for start, _ in days.values()), last + timedelta(days=1))
    for_good = {article.code for article in articles if article.used_up}
    stock = stock_for(job, [article.code for article in articles], span, today, used_up=for_good, instead=written)
    for article in articles:
        lacks = [(day, count) for day, count in replace(article, stock=stock[article.code]).lacks(days) if count]
        if lacks:
            yield f"this job {max(count for _, count in lacks)} x {article.name} from {_said(lacks[0][0])}"


def _articles(plan: Plan, today: date, written: Instead) -> Iterator[dict[str, Any]]:
    """Each article of which a job's new runs want another number, or of which it is then short: sent in all now and
    then, how many more lack than do now, and from which day."""
    job = plan.check.job
    before = _by_type(goods_for(job, cut_list(job, lengths_planned(job)), today))
    after = _by_type(goods_for(job, plan.cut_list(), today, instead=written))
    for kind in sorted({*before, *after}, key=lambda kind: kind.code):
        had, made = before.get(kind), after.get(kind)
        now, then = had.need.send if had else 0, made.need.send if made else 0
        lacked = had.lack.short if had and had.lack else 0
        more, first = _lacking_beyond(made, lacked) if made else (0, None)
        if now != then or more:
            said = first.isoformat() if first else None
            yield {"code": kind.code, "name": kind.name, "now": now, "then": then, "short": more, "first": said}


def _by_type(goods: Iterable[Goods]) -> dict[GearType, Goods]:
    return {each.type: each for each in goods if each.type}


def _lacking_beyond(goods: Goods, lacked: int) -> tuple[int, date | None]:
    """How many more lack than so many, and the first day on which any do."""
    short = goods.lack.short if goods.lack else 0
    days = sorted({day for day, _ in (*goods.need.steps, *goods.stock) if day >= goods.need.steps[0][0]})
    beyond = (day for day in days if level(goods.need.steps, day) - level(goods.stock, day) > lacked)
    return (short - lacked, next(beyond)) if short > lacked else (0, None)


def _said(day: date) -> str:
    return f"{day:%a} {day.day} {day:%B %Y}"


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
