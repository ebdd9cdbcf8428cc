"""Everything a pour needs is held against the stock over time, and rides on the truck that needs it."""

from __future__ import annotations

from datetime import date

import pytest
from django.urls import reverse

from inventory.models import Awaited, CountedStock, Person
from jobs.errors import Refused
from jobs.models import CoverCheck, LoadLine, TakeOffRule
from jobs.selectors.cover import is_stale
from jobs.selectors.goods import stored_goods, why_short
from jobs.selectors.plans import read_plan
from jobs.selectors.stock import stock_for
from jobs.selectors.verdict import verdict_of
from jobs.services.accepting import accept_job
from jobs.services.checking import ask_check, solve_check
from jobs.services.loading import open_delivery_docket, put_on_trucks
from tests.jobs import build

pytestmark = pytest.mark.django_db
TODAY = date(2027, 2, 22)
EARLY, LATE = build.row("A1", pour="P1"), build.row("B1", pour="P2") | {"pour date": "2027-03-16"}
LOW = build.row("A1", stack="S", level=1, pour="P1")
HIGH = build.row("A2", stack="S", level=2, pour="P2") | {"pour date": "2027-03-10"}


def forms(count: int = 4):
    for length in (6500, 3500):
        build.pieces(build.form(length), count, build.yard())


def counted(name: str, kind: str, quantity: int):
    made = build.article(name, kind)
    CountedStock.objects.create(type=made, place=build.yard(), quantity=quantity)
    return made


def answered(job) -> CoverCheck:
    check = ask_check(job=job, today=TODAY)
    solve_check(check=check, seconds=None, today=TODAY)
    check.refresh_from_db()
    return check


def row_of(check, what):
    return next(row for row in stored_goods(check.goods) if row.what == what)


def test_rules_that_name_one_type_differently_need_it_together():
    """Four clamps at the corners by kind and one more a panel by the type itself: five of the one type, four there."""
    forms()
    clamp = build.article("clamp", "corner clamp")
    build.pieces(clamp, 4, build.yard())
    TakeOffRule.objects.create(name="Spare clamp", what=clamp.code, type=clamp, per="panel", levels="all")
    check = answered(build.job_with(EARLY))
    [row] = [row for row in stored_goods(check.goods) if row.type == clamp]
    assert (row.most, row.short, row.name) == (5, 1, "clamp")


def test_three_clamps_for_four_corners_are_short_and_the_verdict_says_from_which_day():
    forms()
    build.pieces(build.article("clamp", "corner clamp"), 3, build.yard())
    check = answered(build.job_with(EARLY))
    row = row_of(check, "corner clamp")
    assert (row.most, row.short, row.first) == (4, 1, date(2027, 3, 4))
    verdict = verdict_of(read_plan(check))
    assert not check.covered and not verdict.covered and verdict.decides == date(2027, 3, 4)
    assert "Short of 1 x clamp; the edge forms are covered" in verdict.sentence
    assert why_short(row) == "On Thu 4 March 2027, 4 x clamp are needed at once, and 3 can be on site: 1 lacking."


def test_the_same_clamps_serve_two_pours_one_after_the_other():
    forms()
    build.pieces(build.article("clamp", "corner clamp"), 4, build.yard())
    check = answered(build.job_with(EARLY, LATE))
    assert check.covered and row_of(check, "corner clamp").spare == 0


def test_an_article_with_no_one_type_is_said_and_not_checked():
    forms()
    check = answered(build.job_with(EARLY))
    row = row_of(check, "corner clamp")
    assert row.type is None and row.short is None and check.covered


def test_inserts_are_used_up_so_that_the_next_job_does_not_get_them_back():
    """One for each of the 18 brackets of the panel above; five per cent spare, rounded up, is sent: 19."""
    forms(8)
    inserts = counted("insert", "insert", 30)
    first, second = build.job_with(LOW, HIGH, code="J1"), build.job_with(LOW, HIGH, code="J2")
    accept_job(check=answered(first), today=TODAY)
    TakeOffRule.objects.exclude(what="insert").filter(sets_positions=False).update(off=True)
    later = (date(2028, 3, 1), date(2028, 3, 2))
    assert stock_for(second, ["INSERT"], later, TODAY, used_up={"INSERT"})["INSERT"][-1][1] == 11
    row = row_of(answered(second), "insert")
    assert (row.most, row.short) == (18, 7) and row.used_up
    assert inserts.code == "INSERT"


def test_goods_on_order_count_from_the_day_they_are_due():
    forms()
    made = counted("insert", "insert", 10)
    job = build.job_with(LOW, HIGH)
    assert row_of(answered(job), "insert").short == 8
    Awaited.objects.create(type=made, place=build.yard(), quantity=20, due_on=date(2027, 3, 2))
    assert row_of(answered(job), "insert").short == 0
    Awaited.objects.update(due_on=date(2027, 3, 20))
    assert row_of(answered(job), "insert").short == 8
    Awaited.objects.update(due_on=date(2027, 2, 1))  # overdue: none until it is dated anew
    assert row_of(answered(job), "insert").short == 8


def test_a_check_is_out_of_date_once_the_clamps_change():
    forms()
    clamp = build.article("clamp", "corner clamp")
    build.pieces(clamp, 4, build.yard())
    check = answered(build.job_with(EARLY))
    assert not is_stale(check, TODAY)
    build.pieces(clamp, 1, build.yard())
    assert is_stale(check, TODAY)


def test_brackets_ride_on_the_truck_of_the_pour_that_needs_more_of_them():
    """The second pour has two panels at once, the first one: 18 brackets, then 18 more once they have come."""
    forms(4)
    bracket = build.article("form bracket", "form bracket")
    build.pieces(bracket, 20, build.yard())
    Awaited.objects.create(type=bracket, place=build.yard(), quantity=20, due_on=date(2027, 3, 10))
    more = build.row("B2", pour="P2") | {"pour date": "2027-03-16"}
    job = build.job_with(EARLY, LATE, more)
    accept_job(check=answered(job), today=TODAY)
    rows = LoadLine.objects.filter(type=bracket, delivery__is_return=False).order_by("delivery__load_on")
    assert list(rows.values_list("quantity", flat=True)) == [18, 18]
    assert list(rows.values_list("delivery__load_on", flat=True)) == [date(2027, 3, 3), date(2027, 3, 12)]


def test_what_comes_after_the_first_truck_has_left_rides_on_a_later_one():
    """Stack brackets are needed from 9 March alone, and come on 8 March: the truck of 3 March cannot bring them."""
    forms()
    bracket = build.article("stack bracket", "stack bracket")
    Awaited.objects.create(type=bracket, place=build.yard(), quantity=30, due_on=date(2027, 3, 8))
    accept_job(check=answered(build.job_with(LOW, HIGH)), today=TODAY)
    line = LoadLine.objects.get(type=bracket, delivery__is_return=False)
    assert (line.quantity, line.delivery.load_on) == (18, date(2027, 3, 8))


def test_what_no_truck_carries_is_said_and_put_on_one_once_it_has_a_type(client_as):
    forms()
    job = build.job_with(EARLY)
    job.pours.update(cast_on=date(2028, 3, 3))
    check = answered(job)
    accept_job(check=check, today=TODAY)
    page = client_as("planner").get(reverse("job", args=[job.pk])).content.decode()
    assert "4 x corner clamp stand on no load list: the catalogue has no type of it" in page
    build.article("clamp", "corner clamp")
    client_as("planner").post(reverse("job-load-rest", args=[job.pk]))
    assert LoadLine.objects.get(delivery__job=job, type__kind="corner clamp").quantity == 4


def test_a_truck_with_a_docket_is_left_alone():
    forms()
    job = build.job_with(EARLY)
    accept_job(check=answered(job), today=TODAY)
    open_delivery_docket(delivery=job.deliveries.get(), by=Person.objects.create(name="P"))
    build.article("clamp", "corner clamp")
    assert put_on_trucks(job=job, today=TODAY) == 1
    assert job.deliveries.count() == 2 and job.deliveries.get(docket=None).lines.get().quantity == 4


def test_a_job_short_of_brackets_alone_wants_a_reason_too():
    forms()
    build.article("clamp", "corner clamp")
    check = answered(build.job_with(EARLY))
    with pytest.raises(Refused) as refused:
        accept_job(check=check, today=TODAY)
    assert refused.value.code == "short"


def test_the_page_of_the_check_shows_goods_with_their_days(client_as):
    forms()
    build.pieces(build.article("clamp", "corner clamp"), 3, build.yard())
    check = answered(build.job_with(EARLY))
    page = client_as("planner").get(reverse("check", args=[check.pk])).content.decode()
    assert "Everything else" in page and "short" in page and "splice plate" not in page
    assert "choose" in page or "catalogue" in page


def test_pieces_change_from_level_to_level_as_little_as_can_be_and_the_page_says_them(client_as):
    """Two stacks whose upper levels could take each other's forms: 6.0 m sides from two lengths at least."""
    for length, count in ((6500, 4), (7000, 4), (3500, 4), (4000, 4)):
        build.pieces(build.form(length), count, build.yard())
    rows = [
        build.row(f"{stack}{level}", stack=stack, level=level, pour=f"P{level}") | {"pour date": day}
        for stack in "AB"
        for level, day in ((1, "2027-03-05"), (2, "2027-03-10"), (3, "2027-03-16"))
    ]
    check = answered(build.job_with(*rows))
    page = client_as("planner").get(reverse("check", args=[check.pk])).content.decode()
    assert "Nothing changes between 4 panels and the one below; in 2 stacks not at all: A, B." in page
