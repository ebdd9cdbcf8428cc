"""Of what a truck lacks: what was chosen for other trucks, and how much other jobs hold until when."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.db.models import Count

from jobs.models import Delivery, Job
from jobs.selectors.chases import promised_back
from jobs.selectors.picks import Held, PickLine, meeting, still_picked
from jobs.selectors.pours import job_calendar
from jobs.selectors.stock import AT_A_YARD, due_on, whereabouts


def say_who_holds(delivery: Delivery, lines: Sequence[PickLine], today: date) -> None:
    """Notes it on each line that lacks some, the soonest first. What is chosen for a truck that has it at another time
    may be chosen for this one too."""
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
    chosen = still_picked().filter(piece__type__code__in=types, piece__place__kind__in=AT_A_YARD)
    trucks = chosen.filter(delivery__in=meeting(delivery, today)).order_by("delivery__load_on", "delivery__job__code")
    said = ("piece__type__code", "delivery__job__code", "delivery__load_on")
    for code, owner, day, count in trucks.values_list(*said).annotate(count=Count("pk")):
        types[code].chosen.append((count, owner, day))
    for line in types.values():
        line.held.sort(key=lambda one: one.until or date.max)
