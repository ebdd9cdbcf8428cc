"""Of what a truck lacks: how much other jobs hold, and when it leaves their sites."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from jobs.models import Delivery, Job
from jobs.selectors.chases import promised_back
from jobs.selectors.picks import Held, PickLine
from jobs.selectors.pours import job_calendar
from jobs.selectors.stock import due_on, whereabouts


def say_who_holds(delivery: Delivery, lines: Sequence[PickLine], today: date) -> None:
    """Notes it on each line that lacks some, the soonest first."""
    types = {line.type.code: line for line in lines if line.by_tag and line.lacking}
    if not types:
        return
    calendar = job_calendar(delivery.job, today)
    holders, promises = whereabouts(delivery.job, types, today, calendar).held, promised_back(today)
    for job in Job.objects.filter(pk__in=holders).prefetch_related("pours").order_by("code"):
        due, held = due_on(job, calendar), holders[job.pk].copy()
        for promise in promises.get(job.pk, ()):
            count = min(promise.count, held[promise.code])
            if count > 0:
                types[promise.code].held.append(Held(job.code, count, promise.day))
                held[promise.code] -= count
        until = due if due is not None and due >= today else None
        for code, count in held.items():
            if count > 0:
                types[code].held.append(Held(job.code, count, until))
    for line in types.values():
        line.held.sort(key=lambda one: one.until or date.max)
