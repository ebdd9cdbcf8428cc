"""What is ordered from a supply is not to be had from it a second time: not at once, not by another job."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Awaited
from inventory.services.awaited import await_goods, call_off, came, date_anew
from jobs.errors import Refused
from jobs.models import Supply
from jobs.planning.remedies.left import Left, Taken
from jobs.selectors.remedies import build_question
from jobs.selectors.supplies import left_of, orders_of, tickable
from jobs.services.accepting import accept_job
from jobs.services.applying import apply_remedy
from jobs.services.supplies import count_orders, order_from
from tests.jobs import build
from tests.jobs.remedies.test_remedy_search import TODAY, checked, found, searched

MARCH, MAY = date(2027, 3, 3), date(2027, 5, 5)


def day(n: int) -> date:
    return date(2027, 3, n)


def left_between(supply, start=TODAY, until=date(2028, 1, 1)):
    return left_of([supply])[supply.pk].between(start, until)


@pytest.fixture
def supply(db):
    return Supply.objects.create(type=build.form(6500), cost=100, most=6)


def bought(supply, quantity, due=MARCH, leaves=None):
    return order_from(supply=supply, place=build.yard(), quantity=quantity, due_on=due, leaves_on=leaves)


def test_what_is_hired_in_is_taken_off_on_the_days_it_is_here_and_no_others():
    left = Left(6, True, (Taken(4, day(5), day(12)), Taken(3, day(20), day(25))))
    assert left.between(day(1), day(5)) == 6 and left.between(day(12), day(20)) == 6
    assert left.between(day(11), day(13)) == 2
    assert left.between(day(1), day(31)) == 2
    assert list(left.steps(day(1))) == [(day(1), 6), (day(5), 2), (day(12), 6), (day(20), 3), (day(25), 6)]


def test_orders_that_overlap_in_time_are_taken_off_together():
    left = Left(6, True, (Taken(2, None, day(12)), Taken(3, day(10), None)))
    assert [left.between(day(n), day(n + 1)) for n in (1, 9, 10, 12, 30)] == [4, 4, 1, 3, 3]


def test_what_is_bought_is_taken_off_for_good():
    left = Left(6, False, (Taken(4, day(5)), Taken(1, None)))
    assert left.between(day(1), day(2)) == 1 and list(left.steps(day(1))) == [(day(1), 1)]


def test_of_any_number_there_are_always_more():
    left = Left(None, True, (Taken(400),))
    assert left.between(day(1), day(2)) is None and not list(left.steps(day(1)))


def test_bought_pieces_stay_taken_off_when_they_have_come_and_not_when_called_off(supply):
    order = bought(supply, 4)
    assert left_between(supply) == 2
    came(order, 3, by=None)
    assert left_between(supply) == 2
    order.refresh_from_db()
    call_off(order)
    assert left_between(supply) == 3
    [row] = orders_of(supply, TODAY)
    assert (row.count, row.came) == (3, 3)


def test_all_that_came_of_an_order_stays_taken_off(supply):
    came(bought(supply, 4), 4, by=None)
    assert left_between(supply) == 2


def test_what_was_hired_in_can_be_had_again_once_it_goes_back(supply):
    Supply.objects.update(way="hire in")
    supply.refresh_from_db()
    order = bought(supply, 4, MARCH, MARCH + timedelta(days=9))
    assert left_between(supply, day(1), day(31)) == 2
    assert left_between(supply, day(12), day(31)) == 6 and left_between(supply, day(1), day(3)) == 6
    came(order, 1, by=None)
    order.refresh_from_db()
    date_anew(order, day(8))
    assert [left_between(supply, day(n), day(n + 1)) for n in (1, 5, 9, 12)] == [5, 5, 2, 6]
    assert [row.count for row in orders_of(supply, day(11))] == [4] and not orders_of(supply, day(12))


def test_no_more_is_ordered_than_is_left(supply):
    bought(supply, 4)
    with pytest.raises(Refused) as refused:
        bought(supply, 3)
    assert refused.value.code == "not-so-many" and "only 2 of 3 can still be bought" in refused.value.sentence
    bought(supply, 2)
    with pytest.raises(Refused, match="none of 1"):
        bought(supply, 1)
    assert Awaited.objects.count() == 2


def test_an_order_put_in_by_hand_counts_once_somebody_says_where_it_is_from(supply):
    other = Supply.objects.create(type=supply.type, cost=90, most=9)
    order = await_goods(type_=supply.type, place=build.yard(), quantity=5, due_on=MARCH)
    assert left_between(supply) == 6 and tickable(supply) == {order.pk: False}
    count_orders(supply=supply, orders=[order])
    assert left_between(supply) == 1 and tickable(supply) == {order.pk: True} and tickable(other) == {}
    count_orders(supply=supply, orders=[])
    assert left_between(supply) == 6
    count_orders(supply=supply, orders=[order])
    came(order, 2, by=None)
    # The rest alone would be too few, so nobody takes it off and puts it on again.
    assert tickable(supply) == {} and left_between(supply) == 1


def jobs_short_of_a_long_form(starts=("2027-03-05", "2027-03-05")):
    """Each needs two long forms that nobody has, and has short ones enough."""
    build.pieces(build.form(3500), 2 * len(starts), build.yard())
    return [
        build.job_with(build.row("A1", pour_date=cast), code=f"J{n}", starts_on=date.fromisoformat(cast).replace(day=1))
        for n, cast in enumerate(starts, 1)
    ]


def buy_for(job):
    search = searched(job)
    apply_remedy(search=search, name="buy", today=TODAY)
    accept_job(check=checked(job), today=TODAY)


@pytest.mark.django_db
@pytest.mark.parametrize("way", ["buy", "hire in"])
def test_what_one_job_has_ordered_the_next_check_does_not_offer_again(way):
    one, two = jobs_short_of_a_long_form()
    supply = Supply.objects.create(type=build.form(6500), way=way, cost=100, most=3)
    buy_for(one)
    assert left_between(supply, day(3), day(12)) == 1
    remedy = found(searched(two), "buy")
    assert not remedy["turns"]
    Supply.objects.update(most=4)
    assert found(searched(two), "buy")["turns"]


@pytest.mark.django_db
def test_what_is_hired_in_for_march_can_be_hired_in_for_may_and_what_is_bought_is_gone():
    one, two = jobs_short_of_a_long_form(("2027-03-05", "2027-05-07"))
    supply = Supply.objects.create(type=build.form(6500), way="hire in", cost=100, most=2)
    buy_for(one)
    assert found(searched(two), "buy")["turns"]
    Supply.objects.update(way="buy")
    supply.refresh_from_db()
    assert left_between(supply) == 0


@pytest.mark.django_db
def test_a_start_put_off_hires_in_what_goes_back_before_it():
    """Hired in for the other job until Fri 12 March: all there is, so nothing can be had until then."""
    one, two = jobs_short_of_a_long_form()
    Supply.objects.create(type=build.form(6500), way="hire in", cost=100, most=2)
    buy_for(one)
    [source] = [each for each in build_question(checked(two), TODAY).sources if each.code == "E150-6500-1"]
    # It is loaded on Wed 3 March now; seven working days later on Fri 12.
    assert source.most == 0 and [source.put_off(days).most for days in (0, 1, 6, 7, 8, 99)] == [0, 0, 0, 2, 2, 2]
    search = searched(two)
    mixed = found(search, "mix")
    assert mixed["turns"] and mixed["days"] == 7
    apply_remedy(search=search, name="mix", today=TODAY)
    two.refresh_from_db()
    assert checked(two).covered


@pytest.mark.django_db
def test_two_presses_on_searches_of_one_moment_do_not_order_the_same_pieces(monkeypatch):
    one, two = jobs_short_of_a_long_form()
    Supply.objects.create(type=build.form(6500), cost=100, most=3)
    first, second = searched(one), searched(two)
    # Both found fresh, and only then both pressed.
    monkeypatch.setattr("jobs.services.applying.is_stale", lambda *_: False)
    apply_remedy(search=first, name="buy", today=TODAY)
    with pytest.raises(Refused, match="look again"):
        apply_remedy(search=second, name="buy", today=TODAY)
    second.refresh_from_db()
    assert not second.applied and Awaited.objects.get().quantity == 2


@pytest.mark.django_db
def test_the_list_and_the_page_say_how_many_are_left_and_why(client_as):
    today = timezone.localdate()
    supply = Supply.objects.create(type=build.form(6500), way="hire in", cost=100, most=6)
    order_from(
        supply=supply,
        place=build.yard(),
        quantity=4,
        due_on=today + timedelta(days=3),
        leaves_on=today + timedelta(days=9),
        note="Hired in for J1",
    )
    planner = client_as("planner")
    listed = planner.get(reverse("supplies")).content.decode()
    assert "Still to be had" in listed and "6; 2 from " in listed
    page = planner.get(reverse("supply", args=[supply.pk])).content.decode()
    assert "6 can be hired in at any one time. Still to be had: 6 today, 2 from " in page
    assert "Hired in for J1" in page and "an order is taken off until it goes back" in page
    assert "every order not called off is taken off" in page
    by_hand = await_goods(type_=supply.type, place=build.yard(), quantity=1, due_on=today, note="order 17")
    choosing = planner.get(reverse("supply-orders", args=[supply.pk])).content.decode()
    assert "order 17" in choosing
    kept = [by_hand.pk, *Awaited.objects.exclude(pk=by_hand.pk).values_list("pk", flat=True)]
    assert planner.post(reverse("supply-orders", args=[supply.pk]), {"orders": kept}).status_code == 302
    page = planner.get(reverse("supply", args=[supply.pk])).content.decode()
    assert "Still to be had: 5 today, 1 from " in page and "no day is given" in page
    Supply.objects.update(way="buy")
    page = planner.get(reverse("supply", args=[supply.pk])).content.decode()
    assert "1 of 6 can still be bought; 5 are ordered." in page
