"""Jobs that may be planned anew together with one that is short: accepted, from the same yard, nothing sent yet."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection
from dataclasses import replace
from datetime import date

from jobs.errors import Refused
from jobs.models import Job
from jobs.planning.availability import Steps, yard_stock
from jobs.planning.remedies.replan import OtherJob, Together
from jobs.planning.request import CoverRequest
from jobs.selectors.cover import build_request
from jobs.selectors.pours import job_calendar
from jobs.selectors.stock import claims_of_others, due_on, whereabouts
from jobs.selectors.waiting import Arrivals


def planned_together(arrivals: Arrivals, request: CoverRequest) -> Together | None:
    """The question of replanning. `request` is the short part of the new job's own; None where no job may change."""
    sections = {piece.section_mm for piece in request.pieces}
    others = [other for job in _changeable(arrivals) if (other := _other(arrivals, job, sections)) is not None]
    if not others or not request.runs:
        return None
    codes = {piece.code for each in (request, *(other.request for other in others)) for piece in each.pieces}
    names = {other.name for other in others}
    first = min(arrivals.today, *(run.start for run in request.runs))
    days = {
        day: (arrivals.load_day(day), arrivals.lead.back_day(day, arrivals.calendar))
        for day in sorted({d for run in request.runs for d in _days(run.start, run.until)})
    }
    return Together(request, tuple(others), _free(arrivals, codes, names, first), days)


def _days(start: date, until: date) -> list[date]:
    return [date.fromordinal(n) for n in range(start.toordinal(), until.toordinal())]


def _changeable(arrivals: Arrivals) -> list[Job]:
    """Accepted, loaded from the same yard after today, and with no docket open and nothing on site."""
    jobs = Job.objects.filter(stage=Job.Stage.ACCEPTED, yard=arrivals.job.yard_id).exclude(pk=arrivals.job.pk)
    jobs = jobs.exclude(deliveries__docket__isnull=False).exclude(site__pieces__isnull=False)
    return list(jobs.filter(deliveries__load_on__gt=arrivals.today).distinct().order_by("code"))


def _other(arrivals: Arrivals, job: Job, sections: Collection[int]) -> OtherJob | None:
    today = arrivals.today
    try:
        asked = build_request(job, today)
    except Refused:
        return None
    pieces = tuple(piece for piece in asked.pieces if piece.section_mm in sections)
    runs = tuple(run for run in asked.runs if run.section_mm in sections)
    own = Arrivals(job, today, job_calendar(job, today))
    due = due_on(job, own.calendar)
    loads = sorted({line.load_on for line in job.deliveries.filter(is_return=False)})
    if not runs or due is None or not loads or loads[0] <= today:
        return None
    back = own.after(job.transport_days + job.turnround_days, due)
    trucks = tuple((load, own.on_site(load)) for load in loads)
    if trucks[0][1] > min(run.start for run in runs):
        return None
    # A request for its own sake: what it may have is what the joint plan gives it.
    request = replace(asked, ask="covered", pieces=tuple(replace(p, on_hand=()) for p in pieces), runs=runs)
    return OtherJob(job.code, request, trucks, back, _present(job, loads, {piece.code for piece in pieces}))


def _present(job: Job, loads: Collection[date], codes: Collection[str]) -> dict[str, tuple[int, ...]]:
    """What each truck brings the number of a type to; planned returns are not counted off."""
    brought: dict[date, Counter[str]] = defaultdict(Counter)
    for delivery in job.deliveries.filter(is_return=False).prefetch_related("lines__type"):
        for line in delivery.lines.all():
            brought[delivery.load_on][line.type.code] += line.quantity
    present: dict[str, list[int]] = {code: [] for code in codes}
    for day in sorted(loads):
        for code in codes:
            present[code].append((present[code] or [0])[-1] + brought[day][code])
    return {code: tuple(levels) for code, levels in present.items()}


def _free(arrivals: Arrivals, codes: Collection[str], names: Collection[str], first: date) -> dict[str, Steps]:
    """What the yard has, less what every job but the ones to be planned anew has claimed."""
    job, today, calendar = arrivals.job, arrivals.today, arrivals.calendar
    found = whereabouts(job, codes, today, calendar)
    kept_out = Job.objects.filter(code__in=names).values_list("pk", flat=True)
    claims = claims_of_others(job, codes, found, today, calendar, but=set(kept_out))
    free: dict[str, Steps] = {}
    for code in codes:
        lots = [lot for lot in found.lots if lot.code == code]
        mine = [claim for claim in claims if claim.code == code]
        days = {first} | {lot.ready for lot in lots} | {lot.until for lot in lots if lot.until}
        days |= {day for claim in mine for day, _ in claim.reserved} | {claim.back for claim in mine if claim.back}
        own = found.own[code]
        free[code] = tuple((day, own + yard_stock(lots, mine, day)) for day in sorted(days))
    return free
