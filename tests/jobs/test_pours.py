"""Days of pours from the working calendar, and moving a pour with all that stands on it."""

from __future__ import annotations

from datetime import date, timedelta

import numpy
import pytest

from inventory.models import Event, YardSettings
from jobs.errors import Refused
from jobs.selectors.pours import cast_pours, days_of, job_calendar, panels_without_inserts
from jobs.services.pours import move_pour, preview_pour_move
from jobs.services.schedules import preview_schedule, take_schedule
from tests.jobs import build

pytestmark = pytest.mark.django_db


def stack_of_two():
    return build.job_with(
        build.row("A1", stack="S", level=1, pour="P1"),
        build.row("A2", stack="S", level=2, pour="P2") | {"pour date": "2027-03-10"},
        build.row("B1", stack="", level="", pour="P3") | {"pour date": "2027-03-11"},
    )


def cast(pour, when=build.NOW):
    """As a press on the pour would be recorded."""
    return Event.objects.create(
        kind="cast",
        group_kind="pour",
        group_id=pour.place_id,
        happened_at=when,
        said_at=when,
        recorded_at=when,
        seen="by group",
    )


def test_a_pour_on_friday_is_stripped_on_monday_and_free_on_tuesday():
    days = days_of(build.job_with(build.row("A1")))["2027-03-05"]
    assert (days.set, days.strip, days.free) == (date(2027, 3, 4), date(2027, 3, 8), date(2027, 3, 9))


def test_the_calendar_leaves_out_public_holidays_of_the_yards_region():
    """Easter 2027 is 26 to 29 March: Good Friday and Easter Monday, from the `holidays` library and from memory."""
    settings = YardSettings.current()
    settings.holiday_country, settings.holiday_region = "AU", "NSW"
    settings.save()
    calendar = job_calendar(build.job())
    assert not calendar.is_working(date(2027, 3, 26)) and not calendar.is_working(date(2027, 3, 29))


def test_a_move_keeps_the_working_days_between_pours_of_a_stack():
    """Counted by numpy.busday_count, a general library."""
    job = stack_of_two()
    move = preview_pour_move(pour=job.pours.get(name="P1"), cast_on=date(2027, 3, 12))
    first, second = move.moved
    assert [first.pour, second.pour] == ["P1", "P2"]
    assert numpy.busday_count(first.after.cast, second.after.cast) == numpy.busday_count("2027-03-05", "2027-03-10")


def test_a_preview_of_a_move_writes_nothing_and_a_move_does():
    job = stack_of_two()
    pour = job.pours.get(name="P1")
    preview_pour_move(pour=pour, cast_on=date(2027, 3, 12))
    assert job.pours.get(name="P2").cast_on == date(2027, 3, 10)
    move_pour(pour=pour, cast_on=date(2027, 3, 12))
    assert dict(job.pours.values_list("name", "cast_on")) == {
        "P1": date(2027, 3, 12),
        "P2": date(2027, 3, 17),
        "P3": date(2027, 3, 11),
    }


def test_a_cast_pour_cannot_be_moved_and_its_panels_cannot_be_changed():
    job = stack_of_two()
    cast(job.pours.get(name="P1"))
    with pytest.raises(Refused):
        move_pour(pour=job.pours.get(name="P1"), cast_on=date(2027, 3, 12))
    wider = build.row("A1", width=6500, stack="S", level=1, pour="P1")
    assert [f.column for f in preview_schedule(job=job, rows=[wider]).findings] == ["mark"]


def test_a_cast_taken_back_does_not_count():
    job = stack_of_two()
    event = cast(job.pours.get(name="P1"))
    later = build.NOW + timedelta(hours=1)
    Event.objects.create(
        kind="reversed",
        target=event.id,
        group_kind="pour",
        group_id=event.group_id,
        happened_at=later,
        said_at=later,
        recorded_at=later,
        seen="typed",
    )
    assert cast_pours(job) == {}


def test_a_panel_put_on_one_already_cast_finds_no_inserts():
    job = build.job_with(build.row("A1", stack="S", level=1, pour="P1"))
    cast(job.pours.get(name="P1"))
    job.panels.update(added_at=build.NOW - timedelta(days=1))
    rows = [build.row("A2", stack="S", level=2, pour="P2") | {"pour date": "2027-03-10"}]
    take_schedule(job=job, rows=rows)
    job.panels.filter(mark="A2").update(added_at=build.NOW + timedelta(days=1))
    assert panels_without_inserts(job, cast_pours(job)) == {"A1"}
