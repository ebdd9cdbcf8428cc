"""One yard looked at alone, and loads taken from the nearest yard."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.models import Delivery, Job, LoadLine, YardRoad
from jobs.selectors.fleet import programme, type_rows
from jobs.selectors.picks import candidates
from jobs.selectors.yards import far_from
from jobs.services.yards import keep_roads
from tests.jobs import build

pytestmark = pytest.mark.django_db


def reserved(job, kind, count):
    Job.objects.filter(pk=job.pk).update(stage=Job.Stage.ACCEPTED)
    load_on = timezone.localdate() + timedelta(days=7)
    LoadLine.objects.create(delivery=Delivery.objects.create(job=job, load_on=load_on), type=kind, quantity=count)


def test_all_yards_together_hide_what_breaks_in_one():
    """North has 2 and its job wants 3; South has 5 and wants none."""
    north, south, kind = build.yard(), build.yard("South yard"), build.form(6500)
    build.pieces(kind, 2, north)
    build.pieces(kind, 5, south)
    today = timezone.localdate()
    reserved(build.job("J1", starts_on=today, ends_on=today + timedelta(days=30)), kind, 3)
    assert programme(today).found == ()
    [broken] = programme(today, north).found
    assert (broken.code, broken.lack, broken.job) == (kind.code, 1, "J1")
    alone = programme(today, south)
    assert alone.found == () and alone.bars == () and type_rows(alone, alone.fleet) == []


def test_the_programme_page_shows_the_yard_that_is_chosen(client_as):
    north, _ = build.yard(), build.yard("South yard")
    page = client_as("planner").get(reverse("programme"), {"yard": north.pk}).content.decode()
    assert "Counted is North yard alone" in page


def test_the_nearest_yard_is_by_road_and_those_without_a_road_come_last():
    north, south, east, west = (build.yard(f"{name} yard") for name in ("North", "South", "East", "West"))
    keep_roads({(south.pk, north.pk): 40, (north.pk, east.pk): 90})
    order = sorted(far_from(north.pk), key=far_from(north.pk).get)
    assert order == [north.pk, south.pk, east.pk, west.pk]
    kind = build.form(6500)
    for yard in (east, south, west):
        build.pieces(kind, 1, yard)
    today = timezone.localdate()
    truck = Delivery.objects.create(job=build.job(), load_on=today)
    found = candidates({kind.pk}, truck, today)[kind.pk]
    assert [one.far for one in sorted(found, key=lambda one: one.far)] == [1, 2, 3]


def test_roads_are_kept_from_the_page_and_taken_off_again(client_as):
    north, south = build.yard(), build.yard("South yard")
    manager, field = client_as("manager"), f"road_{north.pk}_{south.pk}"
    manager.post(reverse("yard-roads"), {field: "35"})
    assert YardRoad.objects.get().km == 35
    assert 'value="35"' in manager.get(reverse("yard-roads")).content.decode()
    manager.post(reverse("yard-roads"), {field: ""})
    assert not YardRoad.objects.exists()
