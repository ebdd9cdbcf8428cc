"""Gear asked back from other jobs, and what their sites promised: a promise dates it anew."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet

from jobs.models import Chase, Job


@dataclass(frozen=True, slots=True)
class Promise:
    """So many of a type leave the site that holds them on `day`."""

    code: str
    count: int
    day: date
    tags: tuple[str, ...] = ()


def open_chases() -> QuerySet[Chase]:
    """Asked back and not settled, for jobs that still want it; soonest first."""
    done = [Job.Stage.DECLINED, Job.Stage.BACK]
    return (
        Chase.objects.filter(settled_at=None).exclude(wanted_for__stage__in=done).select_related("holder", "wanted_for")
    )


def not_promised(job: Job) -> list[Chase]:
    """What a job has asked back for which no day is promised yet: a check counts on none of it."""
    return list(open_chases().filter(wanted_for=job, promised_on=None))


def promised_back(today: date) -> dict[int, list[Promise]]:
    """By the id of the job that holds it: what is promised for a day that has not passed."""
    found: dict[int, list[Promise]] = defaultdict(list)
    for chase in open_chases().filter(promised_on__gte=today):
        for line in chase.lines:
            found[chase.holder_id].append(_promise(line, chase.promised_on or today))
    return found


def _promise(line: dict[str, Any], day: date) -> Promise:
    return Promise(line["code"], line["count"], day, tuple(line.get("tags", ())))
