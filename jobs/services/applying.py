"""Setting a remedy going: one press each. What a stale search found is refused, since it may no longer be true."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory.models import GearType, Piece
from inventory.models import Person as Someone
from inventory.services.awaited import await_goods
from inventory.services.planned_cuts import plan_cut
from inventory.tags import code as tag_code
from jobs.errors import Refused
from jobs.models import Chase, FitFirst, Job, MillBar, RemedySearch, Supply
from jobs.selectors.cutting import to_cut_for
from jobs.selectors.pours import days_of, job_calendar
from jobs.selectors.remedies import is_stale
from jobs.selectors.remedy_rows import supplies_of
from jobs.selectors.waiting import Arrivals
from jobs.services.pours import put_off_job, shift_pours
from jobs.services.replanning import replan_job
from jobs.services.supplies import order_from

Line = Mapping[str, Any]


@transaction.atomic
def apply_remedy(
    *,
    search: RemedySearch,
    name: str,
    by: Someone | None = None,
    today: date | None = None,
    now: datetime | None = None,
) -> str:
    """Does what a remedy says; returns a sentence that says what was done.

    Raises Refused: "no-such-remedy", "stale", "applied".
    """
    search = RemedySearch.objects.select_for_update().get(pk=search.pk)
    today, now = today or timezone.localdate(), now or timezone.now()
    remedy = remedy_named(search, name)
    if name not in APPLIERS or not remedy["turns"]:
        raise Refused("no-such-remedy", "This remedy does not turn the answer, so there is nothing to set going.")
    if name in search.applied:
        raise Refused("applied", "This is set going already.")
    if is_stale(search, today):
        raise Refused("stale", "Stock, dates or other jobs have changed since this was worked out: ask again.")
    job = Job.objects.select_for_update().get(pk=search.check_asked.job_id)
    said = APPLIERS[name](job, remedy["lines"], by, today, now)
    search.applied[name] = now.isoformat()
    search.save(update_fields=["applied"])
    return said


def remedy_named(search: RemedySearch, name: str) -> dict[str, Any]:
    """What the search found of one remedy. Raises Refused ("no-such-remedy")."""
    found = next((each for each in (search.answer or {}).get("remedies", []) if each["name"] == name), None)
    if found is None:
        raise Refused("no-such-remedy", "This search has no such remedy.")
    return found


def _clean_first(job: Job, lines: Sequence[Line], by: Someone | None, today: date, now: datetime) -> str:
    """The pieces go to the head of the cleaning and repair queues, each by the day it is loaded."""
    arrivals = Arrivals(job, today, job_calendar(job, today))
    pieces = {piece.label: piece for piece in Piece.objects.filter(label__in=[line["tag"] for line in lines])}
    for line in lines:
        by_day = max(today, arrivals.load_day(date.fromisoformat(line["day"])))
        FitFirst.objects.update_or_create(
            piece=pieces[line["tag"]],
            job=job,
            defaults={"need": line["need"], "by_day": by_day, "asked_at": now, "asked_by": by},
        )
    return f"{len(lines)} piece{'s are' if len(lines) > 1 else ' is'} put first in the cleaning and repair queues."


def _chase(job: Job, lines: Sequence[Line], by: Someone | None, today: date, now: datetime) -> str:
    """One note on each job that holds the gear."""
    arrivals = Arrivals(job, today, job_calendar(job, today))
    asked: dict[str, list[Line]] = defaultdict(list)
    for line in lines:
        asked[line["holder"]].append(line)
    for code, mine in asked.items():
        wanted = [
            {
                "code": line["code"],
                "count": line["count"],
                "day": arrivals.load_day(date.fromisoformat(line["day"])).isoformat(),
                "tags": line.get("tags", []),
            }
            for line in mine
        ]
        Chase.objects.create(
            holder=Job.objects.get(code=code),
            wanted_for=job,
            lines=wanted,
            by_day=min(date.fromisoformat(each["day"]) for each in wanted),
            asked_at=now,
            asked_by=by,
        )
    return f"Marked to be asked back from {', '.join(sorted(asked))}. Enter the day each site promises."


def _wait(job: Job, lines: Sequence[Line], by: Someone | None, today: date, now: datetime) -> str:
    """Every pour not yet set moves, and the job with them."""
    days = int(lines[0]["days"])
    moved = put_off_job(job=job, days=days, today=today)
    return f"{len(moved)} pours and the job's dates are {days} working days later."


def _move(job: Job, lines: Sequence[Line], by: Someone | None, today: date, now: datetime) -> str:
    """Those pours and no others; each to the day that was shown."""
    moved = shift_pours(job=job, shifts={line["pour"]: int(line["days"]) for line in lines})
    return f"{len(moved)} pour{'s are' if len(moved) > 1 else ' is'} moved."


def _cut(job: Job, lines: Sequence[Line], by: Someone | None, today: date, now: datetime) -> str:
    """Each length is planned to be cut: it counts for nothing else, and its parts from the day they can be ready."""
    ready = Arrivals(job, today, job_calendar(job, today)).after(job.mend_first_days)
    codes = {code for line in lines for code in (line["code"], *line["into"])}
    types = {kind.code: kind for kind in GearType.objects.filter(code__in=codes)}
    planned = []
    for line in lines:
        pieces = list(to_cut_for(job, line["code"])[: line["count"]])
        if len(pieces) < line["count"]:
            raise Refused("none-to-cut", f"Too few {line['code']} are free to be cut any more: look again.")
        into = [types[code] for code in line["into"]]
        planned += [plan_cut(p, into, ready_on=ready, why=f"wanted for {job.code}", by=by, now=now) for p in pieces]
    tags = ", ".join(tag_code.format(cut.piece.label) for cut in planned)
    by_day = f"{ready:%a} {ready.day} {ready:%b %Y}"
    return f"{tags}: to be cut by {by_day}. Each opens filled in under Cut down; its parts are counted on."


def _replan(job: Job, lines: Sequence[Line], by: Someone | None, today: date, now: datetime) -> str:
    """Rewrites the runs and the load lists of the jobs that were shown, and of no other."""
    for line in lines:
        replan_job(job=Job.objects.get(code=line["job"]), line=line, by=by, today=today, now=now)
    named = ", ".join(line["job"] for line in lines) or "no other job"
    return f"The load lists of {named} are written anew. Accept this job next."


def _buy(job: Job, lines: Sequence[Line], by: Someone | None, today: date, now: datetime) -> str:
    """On order, so that a cover check counts on it: as soon as the supplier says, else for the day it is loaded. What
    is hired in comes for the first pour and goes back with all that the job holds: so it was priced."""
    arrivals = Arrivals(job, today, job_calendar(job, today))
    types = {kind.code: kind for kind in GearType.objects.filter(code__in=[line["code"] for line in lines])}
    supplies = supplies_of(lines)
    pours = [days for days in days_of(job, arrivals.calendar).values() if days.free > today]
    first, last = min(days.set for days in pours), max(days.free for days in pours) - timedelta(days=1)
    # In one order for every press, so that two at once wait for each other and never both for the other's.
    for line in sorted(lines, key=lambda line: line["key"]):
        supply, count = supplies.get(line["key"]), line["count"]
        if supply is None:
            wanted = max(today, arrivals.load_day(date.fromisoformat(line["day"])))
            note = f"Bought for {job.code}"
            await_goods(type_=types[line["code"]], place=job.yard, quantity=count, due_on=wanted, note=note)
        elif supply.way == Supply.Way.HIRE:
            due, leaves = arrivals.hired(supply.lead_days, first, last)
            note = f"Hired in for {job.code}"
            order_from(supply=supply, place=job.yard, quantity=count, due_on=due, leaves_on=leaves, note=note)
        else:
            due, note = arrivals.after(supply.lead_days), f"Bought for {job.code}"
            order_from(supply=supply, place=job.yard, quantity=count, due_on=due, note=note)
    pieces = sum(line["count"] for line in lines)
    return f"{pieces} piece{'s are' if pieces > 1 else ' is'} on order. Order them, and keep the day as it is promised."


def _bars(job: Job, lines: Sequence[Line], by: Someone | None, today: date, now: datetime) -> str:
    """The forms to be cut are on order from the day they can be ready."""
    arrivals = Arrivals(job, today, job_calendar(job, today))
    forms: Counter[tuple[str, int, int]] = Counter()
    for line in lines:
        for code in line["codes"]:
            forms[code, line["section_mm"], line["bar_mm"]] += line["times"]
    types = {kind.code: kind for kind in GearType.objects.filter(code__in=[code for code, _, _ in forms])}
    leads = {(bar.section_mm, bar.length_mm): bar.lead_days for bar in MillBar.objects.all()}
    for (code, section, length), count in forms.items():
        due = arrivals.after(leads.get((section, length), 0))
        note = f"Cut from mill bars of {length} mm for {job.code}"
        await_goods(type_=types[code], place=job.yard, quantity=count, due_on=due, note=note)
    bars = sum(line["times"] for line in lines)
    return f"The forms from {bars} bar{'s' if bars > 1 else ''} are on order. Print the cutting list for the saw."


def _mix(job: Job, lines: Sequence[Line], by: Someone | None, today: date, now: datetime) -> str:
    """Each part as alone; the start first, since the days of the rest are those of the later start."""
    said = []
    for do in ("wait", "clean", "chase", "cut", "bars", "buy"):
        mine = [line for line in lines if line["do"] == do]
        if mine:
            said.append(APPLIERS[do](job, mine, by, today, now))
            job.refresh_from_db()
    return " ".join(said)


Applier = Callable[[Job, Sequence[Line], Someone | None, date, datetime], str]
APPLIERS: dict[str, Applier] = {
    "clean": _clean_first,
    "chase": _chase,
    "wait": _wait,
    "move": _move,
    "cut": _cut,
    "buy": _buy,
    "bars": _bars,
    "mix": _mix,
    "replan": _replan,
}
