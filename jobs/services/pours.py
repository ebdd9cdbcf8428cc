"""Moving a pour, and everything after it in its stacks with it. Nothing is written by the preview."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from django.db import transaction

from jobs.calendars.working import WorkingCalendar
from jobs.errors import Refused
from jobs.models import Job, Pour
from jobs.planning.findings import pour_words
from jobs.planning.moving import Move, MovedPour, preview_move
from jobs.selectors.panels import planned_panels
from jobs.selectors.pours import cast_pours, job_calendar, movable, pour_times


def preview_pour_move(*, pour: Pour, cast_on: date) -> Move:
    job = pour.job
    return preview_move(
        pour.name,
        cast_on,
        planned_panels(job),
        dict(job.pours.values_list("name", "cast_on")),
        pour_times(job),
        job_calendar(job, cast_on),
        cast_pours(job),
    )


@transaction.atomic
def move_pour(*, pour: Pour, cast_on: date) -> Move:
    """The same move, written. Days given by hand move by as many working days."""
    job = Job.objects.select_for_update().get(pk=pour.job_id)
    move = preview_pour_move(pour=pour, cast_on=cast_on)
    calendar = job_calendar(job, cast_on)
    pours = {row.name: row for row in job.pours.all()}
    for moved in move.moved:
        _shift(pours[moved.pour], moved, move.working_days, calendar)
    Pour.objects.bulk_update(pours.values(), ["cast_on", "set_on", "free_on"])
    return move


def _shift(pour: Pour, moved: MovedPour, days: int, calendar: WorkingCalendar) -> None:
    pour.cast_on = moved.after.cast
    pour.set_on = pour.set_on and calendar.add(pour.set_on, days)
    pour.free_on = pour.free_on and calendar.add(pour.free_on, days)


@transaction.atomic
def shift_pours(*, job: Job, shifts: Mapping[str, int]) -> list[Pour]:
    """Moves each pour named by its own number of working days, and no other with it; days given by hand too.

    Raises Refused ("already-cast") for a pour that has been cast.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    cast, calendar = cast_pours(job), job_calendar(job)
    moved = []
    for pour in job.pours.filter(name__in=[name for name, days in shifts.items() if days]):
        if pour.name in cast:
            raise Refused("already-cast", f"{pour_words(pour.name)} has been cast: its day cannot be moved any more.")
        days = shifts[pour.name]
        pour.cast_on = calendar.add(pour.cast_on, days)
        pour.set_on = pour.set_on and calendar.add(pour.set_on, days)
        pour.free_on = pour.free_on and calendar.add(pour.free_on, days)
        moved.append(pour)
    Pour.objects.bulk_update(moved, ["cast_on", "set_on", "free_on"])
    return moved


@transaction.atomic
def put_off_job(*, job: Job, days: int, today: date) -> list[Pour]:
    """The whole job so many working days later: its pours not set yet, its dates, its deliveries not yet opened."""
    calendar = job_calendar(job)
    moved = shift_pours(job=job, shifts=dict.fromkeys(movable(job, calendar, today), days))
    job.starts_on = calendar.add(job.starts_on, days)
    job.ends_on = job.ends_on and calendar.add(job.ends_on, days)
    job.save(update_fields=["starts_on", "ends_on"])
    for delivery in job.deliveries.filter(docket=None):
        delivery.load_on = calendar.add(delivery.load_on, days)
        delivery.save(update_fields=["load_on"])
    return moved
