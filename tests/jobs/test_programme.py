"""The programme page: what breaks, what would, and how late each return may be."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.models import Delivery, Job, LoadLine
from jobs.selectors.fleet import WhatIf, new_breaks, programme, slacks, supposed
from jobs.services.checking import ask_check, solve_check
from tests.jobs import build

pytestmark = pytest.mark.django_db


def reserved(code: str, start: date, count: int, days: int = 10):
    """An accepted job that has reserved so many forms from a day on, due back some days later."""
    job = build.job(code, starts_on=start, ends_on=start + timedelta(days=days))
    Job.objects.filter(pk=job.pk).update(stage=Job.Stage.ACCEPTED)
    delivery = Delivery.objects.create(job=job, load_on=start)
    LoadLine.objects.create(delivery=delivery, type=build.form(3000), quantity=count)
    return job


@pytest.fixture
def monday():
    today = timezone.localdate()
    return today + timedelta(days=7 - today.weekday())


def test_two_loads_that_do_not_overlap_are_filled_by_the_same_pieces(monday):
    build.pieces(build.form(3000), 5, build.yard())
    reserved("J1", monday, 5)
    reserved("J2", monday + timedelta(days=30), 5)
    assert programme(timezone.localdate()).found == ()


def test_a_load_that_cannot_be_filled_names_the_job_and_the_day(client_as, monday):
    build.pieces(build.form(3000), 5, build.yard())
    reserved("J1", monday, 4)
    reserved("J2", monday + timedelta(days=2), 3)
    (one,) = programme(timezone.localdate()).found
    assert (one.first, one.lack, one.job) == (monday + timedelta(days=2), 2, "J2")
    page = client_as("planner").get(reverse("programme")).content.decode()
    assert "2 x E150-3000-1 lacking; the load of J2 finds too little" in page and "breaks" in page
    assert 'class="breaking"' in page


def test_what_if_is_shown_and_nothing_is_changed(client_as, monday):
    build.pieces(build.form(3000), 5, build.yard())
    late = reserved("J1", monday, 5)
    reserved("J2", monday + timedelta(days=21), 5)
    ends = Job.objects.get(pk=late.pk).ends_on
    url = reverse("programme")
    page = client_as("planner").get(url, {"job": late.pk, "late": 10}).content.decode()
    assert "If J1 runs 10 working days late" in page and "5 x E150-3000-1 lacking, 5 more than now" in page
    page = client_as("planner").get(url, {"job": late.pk, "late": 1}).content.decode()
    assert "every load can be filled that can be filled now" in page
    assert Job.objects.get(pk=late.pk).ends_on == ends


def test_pieces_that_fail_and_a_return_that_does_not_come_are_looked_at_too(client_as, monday):
    form = build.form(3000)
    build.pieces(form, 5, build.yard())
    reserved("J1", monday, 5)
    reserved("J2", monday + timedelta(days=30), 5)
    found = programme(timezone.localdate())
    assert new_breaks(found, supposed(found, WhatIf(type=form, fail=2)))[0][0].job == "J1"
    back = slacks(found)[0].back
    page = client_as("manager").get(reverse("programme"), {"not_back": f"{back.job}|{back.day.isoformat()}"})
    assert "does not come" in page.content.decode() and "the load of J2 finds too little" in page.content.decode()


def test_the_slack_of_a_return_stands_on_the_page(client_as, monday):
    build.pieces(build.form(3000), 5, build.yard())
    reserved("J1", monday, 5)
    reserved("J2", monday + timedelta(days=30), 5)
    slack = next(one for one in slacks(programme(timezone.localdate())) if one.back.job == "J1")
    assert slack.job == "J2" and slack.back.day + timedelta(days=slack.slip or 0) == monday + timedelta(days=30)
    page = client_as("planner").get(reverse("programme")).content.decode()
    assert "5 of 5 x E150-3000-1</a> by" in page and "not waited for" in page


def test_half_a_question_is_asked_back(client_as, monday):
    job = reserved("J1", monday, 1)
    page = client_as("planner").get(reverse("programme"), {"job": job.pk}).content.decode()
    assert "Give both, or neither" in page


def test_a_job_only_asked_for_is_counted_as_it_was_last_checked_when_that_is_wanted(client_as, monday):
    """Two forms of 6.5 m; J1 has reserved one of them, and the panel of J2, checked before, needs two at once."""
    build.pieces(build.form(6500), 2, build.yard())
    build.pieces(build.form(3500), 2, build.yard())
    today = timezone.localdate()
    asked = build.job_with(build.row("A1"), code="J2", starts_on=monday)
    asked.pours.update(cast_on=monday + timedelta(days=10))
    solve_check(check=ask_check(job=asked, today=today), seconds=None, today=today)
    job = build.job("J1", starts_on=monday, ends_on=monday + timedelta(days=60))
    Job.objects.filter(pk=job.pk).update(stage=Job.Stage.ACCEPTED)
    delivery = Delivery.objects.create(job=job, load_on=monday)
    LoadLine.objects.create(delivery=delivery, type=build.form(6500), quantity=1)
    assert programme(today).found == ()
    (one,) = programme(today, with_asked=True).found
    assert (one.code, one.lack, one.job) == ("E150-6500-1", 1, "J2")
    planner, bare = client_as("planner"), build.job("J3")
    assert "Count jobs only asked for" in planner.get(reverse("programme")).content.decode()
    page = planner.get(reverse("programme"), {"asked": "on"}).content.decode()
    assert "Counted as if accepted: J2" in page and f"{bare.code} has no answered check" in page
