"""A truck that leaves without some of its load: the job says so, and another truck brings it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from django.urls import reverse

from inventory.models import Person, Tag
from inventory.services.docket_scans import Scan, load
from inventory.services.dockets import cancel, leave, open_docket
from jobs.models import Delivery, Job, LoadLine
from jobs.selectors.behind import left_behind
from jobs.selectors.pours import programme_of
from jobs.services.loading import open_delivery_docket, put_on_trucks
from jobs.services.picking import choose_tags
from jobs.services.schedules import take_schedule
from tests.jobs import build

pytestmark = pytest.mark.django_db
NOW = datetime(2027, 3, 1, 8, tzinfo=UTC)
TODAY, LOADED = date(2027, 3, 1), date(2027, 3, 3)


def truck(wanted: int = 3, code: str = "J1") -> Delivery:
    job = build.job(code)
    Job.objects.filter(pk=job.pk).update(stage=Job.Stage.ACCEPTED)
    made = Delivery.objects.create(job=Job.objects.get(pk=job.pk), load_on=LOADED)
    LoadLine.objects.create(delivery=made, type=build.form(3000), quantity=wanted)
    return made


def stock(count: int):
    made = build.pieces(build.form(3000), count, build.yard())
    Tag.objects.bulk_create(Tag(code=piece.label, piece=piece, fixed_at=NOW) for piece in made)
    return made


def drive_off(docket, pieces):
    for piece in pieces:
        load(docket, Scan(code=piece.label, piece=piece), now=NOW)
    leave(docket, by=None, vehicle="T", driver="D", signed_by="D", now=NOW)


def gone(wanted: int, loaded: int) -> Delivery:
    """A truck that has left with fewer than its load list wants."""
    made, pieces = truck(wanted), stock(wanted)
    drive_off(open_delivery_docket(delivery=made, by=Person.objects.create(name="P")), pieces[:loaded])
    return Delivery.objects.get(pk=made.pk)


def counts(job: Job) -> list[tuple[date, int]]:
    lines = LoadLine.objects.filter(delivery__job=job).order_by("delivery")
    return list(lines.values_list("delivery__load_on", "quantity"))


def test_the_jobs_page_says_what_a_truck_left_without_and_puts_it_on_another(client_as):
    made = gone(wanted=3, loaded=1)
    page = client_as("planner").get(reverse("job", args=[made.job_id])).content.decode()
    assert f"2 x Edge form 150 x 3000 did not go with {made.docket}" in page
    client_as("planner").post(reverse("job-load-rest", args=[made.job_id]))
    assert sum(count for _, count in counts(made.job)) == 3 and made.lines.get().quantity == 1
    assert left_behind(made.job) == []


def test_it_goes_on_the_day_of_its_truck_or_today_where_that_is_past():
    made = gone(wanted=3, loaded=2)
    put_on_trucks(job=made.job, today=TODAY)
    assert counts(made.job) == [(LOADED, 2), (LOADED, 1)]
    LoadLine.objects.filter(delivery=made).update(quantity=5)
    put_on_trucks(job=made.job, today=date(2027, 3, 9))
    assert counts(made.job) == [(LOADED, 2), (LOADED, 1), (date(2027, 3, 9), 3)]


def test_what_comes_by_a_docket_opened_by_hand_is_not_asked_for_again():
    made = gone(wanted=3, loaded=2)
    other = open_docket(from_place=made.job.yard, to_place=made.job.site, by=Person.objects.get())
    drive_off(other, stock(1))
    assert left_behind(made.job) == []


def test_a_truck_still_loading_has_left_nothing_behind():
    made = truck()
    open_delivery_docket(delivery=made, by=Person.objects.create(name="P"))
    assert left_behind(made.job) == []


def test_once_every_pour_is_cast_nothing_is_left_to_bring():
    made = gone(wanted=3, loaded=2)
    take_schedule(job=made.job, rows=[build.row("W1", pour="P1")])
    programme = programme_of(made.job)
    assert left_behind(made.job, programme)
    assert left_behind(made.job, replace(programme, cast=dict.fromkeys(programme.days, NOW))) == []


def test_a_truck_whose_docket_was_cancelled_gets_another_and_keeps_its_tags(client_as):
    made = truck(2)
    stock(2)
    assert choose_tags(delivery=made, today=TODAY) == 2
    first = open_delivery_docket(delivery=made, by=Person.objects.create(name="P"))
    cancel(first, now=NOW)
    assert choose_tags(delivery=truck(2, "J2"), today=TODAY) == 0
    page = client_as("planner").get(reverse("job", args=[made.job_id])).content.decode()
    assert reverse("delivery-docket", args=[made.pk]) in page
    client_as("planner").post(reverse("delivery-docket", args=[made.pk]))
    made.refresh_from_db()
    assert made.docket != first and made.docket.stage == "loading" and made.picks.count() == 2
