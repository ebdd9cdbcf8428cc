"""A job short of clamps and of forms, put right from the page: each press, and then the check again."""

from __future__ import annotations

from datetime import date

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Awaited
from jobs.models import Chase, Delivery, FitFirst, Job, LoadLine, MillBar, Supply
from jobs.selectors.chases import leave_by, not_in_time
from jobs.selectors.fleet import programme
from jobs.selectors.remedy_page import listed
from jobs.services.accepting import accept_job
from jobs.services.applying import apply_remedy
from jobs.services.supplies import keep_promise
from tests.jobs import build
from tests.jobs.remedies.test_remedy_search import TODAY, checked, found, other_job, searched

# What is found hangs on the plan; what it is read from and written to is tested on either database beside it.
pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


def forms_for_one(long: int = 2, short: int = 2):
    build.pieces(build.form(6500), long, build.yard())
    build.pieces(build.form(3500), short, build.yard())


def clamp(value: int = 0):
    made = build.article("clamp", "corner clamp")
    made.replacement_value = value
    made.save()
    return made


def a_job_short_of_one_clamp(**settings):
    """Four corners, three clamps; forms enough."""
    forms_for_one()
    made = clamp(value=30)
    build.pieces(made, 3, build.yard())
    return build.job_with(build.row("A1"), **settings), made


def test_a_dirty_clamp_goes_first_in_the_queue_and_the_next_check_is_covered():
    job, kind = a_job_short_of_one_clamp(turnround_days=8)
    [dirty] = build.pieces(kind, 1, build.yard(), dirty=True)
    search = searched(job)
    assert found(search, "clean")["lines"] == [
        {"tag": dirty.label, "code": kind.code, "need": "clean", "day": "2027-03-04"}
    ]
    apply_remedy(search=search, name="clean", today=TODAY)
    assert FitFirst.objects.get().piece == dirty and checked(job).covered


def test_clamps_are_asked_back_by_tag_and_count_from_the_promised_day():
    job, kind = a_job_short_of_one_clamp()
    late = other_job(starts_on=date(2027, 1, 4), ends_on=date(2027, 2, 1))
    away = build.pieces(kind, 2, late.site)
    search = searched(job)
    assert found(search, "chase")["lines"][0]["tags"] == [away[0].label]
    apply_remedy(search=search, name="chase", today=TODAY)
    chase = Chase.objects.get()
    assert chase.lines[0]["tags"] == [away[0].label]
    keep_promise(chase=chase, promised_on=date(2027, 2, 25), settled=False, now=build.NOW)
    assert checked(job).covered


def test_clamps_bought_are_on_order_and_the_next_check_counts_on_them(client_as):
    job, kind = a_job_short_of_one_clamp()
    Supply.objects.create(type=kind, cost=25, lead_days=3)
    search = searched(job)
    remedy = found(search, "buy")
    assert (remedy["cents"], remedy["proved"]) == (2_500, True)
    page = client_as("planner").get(reverse("remedy", args=[search.pk, "buy"])).content.decode()
    assert "25.00 EUR in all" in page
    apply_remedy(search=search, name="buy", today=TODAY)
    order = Awaited.objects.get()
    assert (order.type, order.quantity, order.due_on, order.leaves_on) == (kind, 1, date(2027, 2, 25), None)
    assert checked(job).covered


def test_what_is_hired_in_for_a_job_goes_back_after_it():
    """Free on Tue 9 March; last used on Mon 8, a day on the road and two to count and clean: back on Fri 12."""
    job, kind = a_job_short_of_one_clamp()
    Supply.objects.create(type=kind, way="hire in", cost=1)
    apply_remedy(search=searched(job), name="buy", today=TODAY)
    assert Awaited.objects.get().leaves_on == date(2027, 3, 12)
    assert checked(job).covered


def test_what_is_hired_in_stays_until_the_day_agreed_for_all_of_a_jobs_gear():
    """Due back Fri 26 March: a day on the road and two to count and clean, back on Wed 31."""
    job, kind = a_job_short_of_one_clamp()
    Job.objects.filter(pk=job.pk).update(ends_on=date(2027, 3, 26))
    Supply.objects.create(type=kind, way="hire in", cost=1)
    apply_remedy(search=searched(job), name="buy", today=TODAY)
    assert Awaited.objects.get().leaves_on == date(2027, 3, 31)
    accept_job(check=checked(job), today=TODAY)
    assert not programme(TODAY).found


def test_an_article_without_a_price_is_bought_all_the_same_and_no_money_is_said():
    job, kind = a_job_short_of_one_clamp()
    kind.replacement_value = 0
    kind.save()
    remedy = found(searched(job), "buy")
    assert remedy["turns"] and remedy["cents"] is None and "no price is known" in remedy["sentence"]


def test_waiting_waits_for_a_clamp_that_comes_back_later():
    job, kind = a_job_short_of_one_clamp()
    build.pieces(kind, 1, other_job(ends_on=date(2027, 3, 8)).site)
    search = searched(job)
    assert (found(search, "wait")["days"], found(search, "wait")["proved"]) == (6, True)
    apply_remedy(search=search, name="wait", today=TODAY)
    job.refresh_from_db()
    assert checked(job).covered


def test_pours_that_share_clamps_are_moved_apart():
    forms_for_one(4, 4)
    build.pieces(clamp(), 4, build.yard())
    job = build.job_with(build.row("A1", pour="P1"), build.row("B1", pour="P2"))
    search = searched(job)
    assert len(found(search, "move")["lines"]) == 1 and found(search, "move")["proved"]
    apply_remedy(search=search, name="move", today=TODAY)
    assert checked(job).covered


def test_forms_and_clamps_short_at_once_are_turned_by_several_remedies_together(client_as):
    """One form is dirty, and cleaned for nothing; the clamp that is lacking can only be bought."""
    forms_for_one(long=1)
    kind = clamp(value=30)
    build.pieces(kind, 3, build.yard())
    job = build.job_with(build.row("A1"), turnround_days=8)
    [dirty] = build.pieces(build.form(6500), 1, build.yard(), dirty=True)
    form = build.form(6500)
    form.replacement_value = 400
    form.save()
    search = searched(job)
    clean, mixed = found(search, "clean"), found(search, "mix")
    assert not clean["turns"] and "Still short then: clamp" in clean["sentence"]
    assert mixed["turns"] and mixed["proved"] and mixed["cents"] == 3_000
    assert found(search, "buy")["cents"] == 43_000
    page = client_as("planner").get(reverse("remedy", args=[search.pk, "mix"])).content.decode()
    assert "30.00 EUR in all" in page and "Clean" in page
    apply_remedy(search=search, name="mix", today=TODAY)
    assert FitFirst.objects.get().piece == dirty and Awaited.objects.get().type == kind
    assert checked(job).covered


def test_forms_to_be_cut_from_bars_are_put_on_order(client_as):
    forms_for_one(long=1)
    job = build.job_with(build.row("A1"))
    MillBar.objects.create(section_mm=150, length_mm=7000, cost=80, lead_days=4)
    search = searched(job)
    page = client_as("planner").get(reverse("remedy", args=[search.pk, "bars"])).content.decode()
    assert "1 x 6,500 mm, one end splayed" in page
    apply_remedy(search=search, name="bars", today=TODAY)
    order = Awaited.objects.get()
    assert (order.type.code, order.quantity, order.due_on) == ("E150-6500-1", 1, date(2027, 2, 26))
    assert checked(job).covered


def test_what_runs_composed_anew_need_beside_the_forms_is_part_of_the_remedy():
    """The long form that is lacking is dear; one of 3.5 m and one of 3.0 m in its place are cheap, but want a plate."""
    forms_for_one(long=1)
    short, square = build.form(3500), build.form(3000, splayed=0)
    plate = build.article("plate", "splice plate")
    for kind, cost in ((build.form(6500), 900), (short, 10), (square, 10), (plate, 5)):
        Supply.objects.create(type=kind, cost=cost)
    job = build.job_with(build.row("A1"))
    search = searched(job)
    assert not any(row["short"] for row in search.check_asked.goods)  # one long form wants no plate
    remedy = found(search, "buy")
    assert {line["code"]: line["count"] for line in remedy["lines"]} == {short.code: 1, square.code: 1, plate.code: 1}
    assert remedy["cents"] == 2_500
    apply_remedy(search=search, name="buy", today=TODAY)
    assert checked(job).covered


def test_a_check_falls_back_on_the_runs_that_a_remedy_was_worked_out_with():
    """Once more forms are on hand the least gear is joined ones, for which there are no plates."""
    forms_for_one(long=1)
    build.article("plate", "splice plate")
    long = build.form(6500)
    Supply.objects.create(type=long, cost=1)
    job = build.job_with(build.row("A1"), joint_handling_mm=0, piece_handling_mm=0)
    search = searched(job)
    apply_remedy(search=search, name="buy", today=TODAY)
    build.pieces(build.form(2600, splayed=0), 2, build.yard())
    build.pieces(build.form(3500), 2, build.yard())
    check = checked(job)
    assert check.covered and check.beside["instead"] == [["plate", 2]]


def test_where_the_least_gear_lacks_plates_and_runs_of_fewer_joints_do_not_the_job_is_covered(client_as):
    forms_for_one(long=2, short=4)
    build.pieces(build.form(2600, splayed=0), 2, build.yard())
    build.article("plate", "splice plate")
    job = build.job_with(build.row("A1"), joint_handling_mm=0, piece_handling_mm=0)
    check = checked(job)
    assert check.covered and all(len(run["pieces"]) == 1 for run in check.answer["runs"])
    page = client_as("planner").get(reverse("check", args=[check.pk])).content.decode()
    assert "those of least gear would be short of 2 x plate" in page


def test_a_promise_says_by_when_gear_must_leave_and_how_much_too_late_it_is(client_as):
    """Loaded Wed 3 March; one working day on the road and two to count and clean before that: gone by Fri 26 Feb."""
    job, kind = a_job_short_of_one_clamp()
    late = other_job(starts_on=date(2027, 1, 4), ends_on=date(2027, 2, 1))
    build.pieces(kind, 2, late.site)
    apply_remedy(search=(search := searched(job)), name="chase", today=TODAY)
    chase = Chase.objects.get()
    assert leave_by(chase, TODAY) == date(2027, 2, 26)
    [ask] = [each for each in listed(search)[0] if each.name == "chase"]
    assert ask.leave_by == [(late.code, date(2027, 2, 26))]
    page = client_as("planner").get(reverse("check", args=[search.check_asked_id])).content.decode()
    assert f'must leave {late.code} by <time datetime="2027-02-26"' in page
    keep_promise(chase=chase, promised_on=date(2027, 3, 1), settled=False, now=build.NOW)
    assert not checked(job).covered
    [asked] = not_in_time(job, TODAY)
    assert (asked.late_by, asked.passed) == (3, False)
    page = client_as("planner").get(reverse("chase", args=[chase.pk])).content.decode()
    assert "3 days too late" in page
    keep_promise(chase=chase, promised_on=date(2027, 2, 26), settled=False, now=build.NOW)
    assert checked(job).covered and not not_in_time(job, TODAY)


def test_a_job_still_asked_for_is_checked_again_with_what_a_site_promises(client_as):
    today = timezone.localdate()
    pour = build.row("A1") | {"pour date": build.later(today, 9).isoformat()}
    job = build.job_with(pour, starts_on=today)
    made = Chase.objects.create(holder=other_job(), wanted_for=job, by_day=today, asked_at=build.NOW, lines=[])
    planner, url = client_as("planner"), reverse("chase", args=[made.pk])
    assert planner.post(url, {"promised_on": ""}).url == reverse("chases") and not job.checks.exists()
    kept = planner.post(url, {"promised_on": today.isoformat()})
    assert kept.url == reverse("check", args=[job.checks.get().pk])
    Job.objects.filter(pk=job.pk).update(stage=Job.Stage.ACCEPTED)
    assert planner.post(url, {"promised_on": today.isoformat()}).url == reverse("chases")


def test_what_other_jobs_have_reserved_beyond_the_stock_is_made_up_for_first(client_as):
    """Three clamps are there, five reserved: four are needed here, so six more must come."""
    job, kind = a_job_short_of_one_clamp()
    other = other_job(ends_on=date(2027, 6, 30))
    delivery = Delivery.objects.create(job=other, load_on=date(2027, 3, 1))
    LoadLine.objects.create(delivery=delivery, type=kind, quantity=5)
    Supply.objects.create(type=kind, cost=25)
    search = searched(job)
    [line] = found(search, "buy")["lines"]
    assert line["count"] == 6 and search.answer["owed"] == [["clamp", 2]]
    page = client_as("planner").get(reverse("check", args=[search.check_asked_id])).content.decode()
    assert "Other jobs have reserved more than there will be of clamp (by 2)" in page
    apply_remedy(search=search, name="buy", today=TODAY)
    assert checked(job).covered


def test_forms_that_other_jobs_have_reserved_beyond_the_stock_are_made_up_for_first():
    forms_for_one(long=1)
    long = build.form(6500)
    job, other = build.job_with(build.row("A1")), other_job(ends_on=date(2027, 6, 30))
    delivery = Delivery.objects.create(job=other, load_on=date(2027, 3, 1))
    LoadLine.objects.create(delivery=delivery, type=long, quantity=3)
    Supply.objects.create(type=long, cost=1)
    search = searched(job)
    [line] = found(search, "buy")["lines"]
    assert line["count"] == 4 and search.answer["owed"] == [[long.code, 2]]
    apply_remedy(search=search, name="buy", today=TODAY)
    assert checked(job).covered


def test_what_others_lack_on_days_this_job_does_not_need_it_is_not_made_up_for():
    """The other job has three reserved where one is there, and is back and clean by 2 March: ours loads on the 3rd."""
    forms_for_one(long=1)
    job, other = build.job_with(build.row("A1")), other_job(starts_on=TODAY, ends_on=date(2027, 2, 25))
    delivery = Delivery.objects.create(job=other, load_on=date(2027, 2, 23))
    LoadLine.objects.create(delivery=delivery, type=(long := build.form(6500)), quantity=3)
    Supply.objects.create(type=long, cost=1)
    search = searched(job)
    [line] = found(search, "buy")["lines"]
    assert line["count"] == 1 and search.answer["owed"] == []
