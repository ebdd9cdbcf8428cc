"""Gear asked back from other jobs, and what their sites promised: a promise dates it anew."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import QuerySet

from jobs.models import Chase, Job
from jobs.selectors.pours import job_calendar


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


@dataclass(frozen=True)
class AskedBack:
    """Gear asked back, and the last day it may leave the site that holds it to be in time."""

    chase: Chase
    leave_by: date
    today: date

    @property
    def working_days(self) -> int:
        """On the road, and to be counted and cleaned."""
        return self.chase.holder.transport_days + self.chase.holder.turnround_days

    @property
    def in_time(self) -> bool:
        """Whether a day is promised that has not passed and is soon enough."""
        promised = self.chase.promised_on
        return promised is not None and self.today <= promised <= self.leave_by

    @property
    def passed(self) -> bool:
        """Whether the day it was promised for is over."""
        promised = self.chase.promised_on
        return promised is not None and promised < self.today

    @property
    def late_by(self) -> int:
        """By how many days the promise is too late; 0 where none is."""
        promised = self.chase.promised_on
        return 0 if promised is None or self.passed else max(0, (promised - self.leave_by).days)


def not_in_time(job: Job, today: date) -> list[AskedBack]:
    """What a job has asked back that it cannot count on yet, or not from the day it is wanted."""
    asked = [AskedBack(chase, leave_by(chase, today), today) for chase in open_chases().filter(wanted_for=job)]
    return [each for each in asked if not each.in_time]


def promised_back(today: date) -> dict[int, list[Promise]]:
    """By the id of the job that holds it: what is promised for a day that has not passed."""
    found: dict[int, list[Promise]] = defaultdict(list)
    for chase in open_chases().filter(promised_on__gte=today):
        for line in chase.lines:
            found[chase.holder_id].append(_promise(line, chase.promised_on or today))
    return found


def leave_by(chase: Chase, today: date) -> date:
    """The last day gear may leave the site that holds it to be back, counted and clean on the day it is loaded."""
    holder = chase.holder
    calendar = job_calendar(chase.wanted_for, today, chase.by_day)
    day = chase.by_day
    while calendar.add(day, holder.transport_days + holder.turnround_days) > chase.by_day:
        day -= timedelta(days=1)
    return day


def _promise(line: dict[str, Any], day: date) -> Promise:
    return Promise(line["code"], line["count"], day, tuple(line.get("tags", ())))
