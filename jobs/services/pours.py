"""Moving a pour, and everything after it in its stacks with it. Nothing is written by the preview."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from jobs.calendars.working import WorkingCalendar
from jobs.models import Job, Pour
from jobs.planning.moving import Move, MovedPour, preview_move
from jobs.selectors.panels import planned_panels
from jobs.selectors.pours import cast_pours, job_calendar, pour_times


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
