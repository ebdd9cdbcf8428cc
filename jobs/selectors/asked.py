"""Jobs that are only asked for, as they would take gear: what the last answered check of each would load."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import accumulate

from inventory.models import Place
from jobs.models import CoverCheck, Job
from jobs.planning.availability import Claim
from jobs.planning.fleet import Taking
from jobs.selectors.loads import all_loads
from jobs.selectors.plans import Plan, read_plan
from jobs.selectors.pours import job_calendar
from jobs.selectors.stock import back_on


@dataclass(frozen=True)
class Asked:
    """What jobs only asked for would take, and those that nobody can say it of, having no answered check."""

    takings: tuple[Taking, ...] = ()
    counted: tuple[Job, ...] = ()
    unchecked: tuple[Job, ...] = ()


def asked_for(today: date, yard: Place | None = None) -> Asked:
    """Of all jobs asked for, or of those that one yard would supply."""
    jobs = Job.objects.asked().filter(**({"yard": yard} if yard else {})).select_related("yard").order_by("code")
    takings: list[Taking] = []
    counted, unchecked = [], []
    for job in jobs:
        check = job.checks.filter(state=CoverCheck.State.ANSWERED).first()
        if check is None or not check.answer:
            unchecked.append(job)
            continue
        counted.append(job)
        takings += (Taking(job.code, claim) for claim in _claims(read_plan(check), job, today))
    return Asked(tuple(takings), tuple(counted), tuple(unchecked))


def _claims(plan: Plan, job: Job, today: date) -> Sequence[Claim]:
    """Loaded truck by truck, a partial return once it is counted and clean, the rest until the job's gear is back."""
    calendar = job_calendar(job)
    changes: dict[str, Counter[date]] = defaultdict(Counter)
    out, early = all_loads(plan, job, calendar, today)
    for day, counts in out.items():
        for code, count in counts.items():
            changes[code][day] += count
    for day, counts in early.items():
        for code, count in counts.items():
            changes[code][calendar.add(day, job.transport_days + job.turnround_days)] -= count
    back = back_on(job, today, calendar)
    found = []
    for code, change in sorted(changes.items()):
        days = sorted(change)
        steps = tuple(zip(days, accumulate(change[day] for day in days), strict=True))
        found.append(Claim(code, steps, 0, back))
    return found
