"""Repair orders: parts off the shelf, done, inspected; and what is said against buying another."""

import datetime as dt
from decimal import Decimal

import pytest

from inventory.errors import Refused
from inventory.lifecycle.kinds import Fitness, Kind
from inventory.models import CountedStock, Event, RepairOrder
from inventory.services import repairs
from inventory.services.presses import press
from tests.inventory.yard import NOW, make_yard

D = Decimal
LATER = NOW + dt.timedelta(days=3)


@pytest.fixture
def yard(db):
    made = make_yard()
    made.bolt.replacement_value = D("0.60")
    made.bolt.save()
    made.tell(Kind.COUNTED, 1, type=made.bolt.pk, place=made.yard.pk, quantity=20)
    return made


@pytest.fixture
def bent(yard):
    (piece,) = yard.pieces("ABCDEFGH3")
    yard.tell(Kind.FOUND_DAMAGED, 2, piece=piece.pk, data={"grade": "unfit"})
    piece.refresh_from_db()
    return piece


@pytest.fixture
def order(yard, bent):
    return repairs.open_repair(bent, what="straighten", by=yard.hand, now=NOW, place=yard.bay, estimate=D(20))


def test_opening_says_where_the_piece_now_is(yard, bent, order):
    bent.refresh_from_db()
    assert bent.place == yard.bay and order.stage == "open"


def test_a_piece_has_one_open_order(yard, bent, order):
    with pytest.raises(Refused, match="open repair order"):
        repairs.open_repair(bent, what="again", by=None, now=NOW)


def test_parts_come_off_the_shelf_and_into_the_cost(yard, order):
    repairs.use_parts(order, yard.bolt, yard.yard, 5, by=yard.hand, now=NOW)
    assert CountedStock.objects.get(type=yard.bolt, place=yard.yard).quantity == 15
    assert repairs.cost_of(order) == D("3.00")


def test_more_than_the_shelf_has_is_refused(yard, order):
    with pytest.raises(Refused, match="has 20 x Stud bolt"):
        repairs.use_parts(order, yard.bolt, yard.yard, 21, by=None, now=NOW)
    assert CountedStock.objects.get(type=yard.bolt, place=yard.yard).quantity == 20


def test_done_is_not_fit_until_somebody_named_has_inspected_it(yard, bent, order):
    repairs.finish_repair(order, words="pressed straight", work_cost=D(12), by=yard.hand, now=LATER)
    bent.refresh_from_db()
    assert bent.fitness == Fitness.UNFIT and order.stage == "done, to inspect"
    with pytest.raises(Refused, match="who inspected it"):
        press(bent, Kind.INSPECTED, by=yard.hand, now=LATER, data={"grade": "sound"})
    said = {"grade": "sound", "by_name": "A competent person", "checked": "straight within 2 mm"}
    press(bent, Kind.INSPECTED, by=yard.hand, now=LATER, data=said)
    bent.refresh_from_db()
    order.refresh_from_db()
    assert bent.fitness == Fitness.SOUND and order.stage == "inspected"
    assert order.done_at - order.opened_at == dt.timedelta(days=3)


def test_given_up_is_over(yard, order):
    repairs.give_up(order, why="cracked at the weld", now=LATER)
    with pytest.raises(Refused, match="given up"):
        repairs.use_parts(order, yard.bolt, yard.yard, 1, by=None, now=LATER)


def test_the_pages_carry_an_order_through(yard, bent, client_as):
    manager = client_as("manager")
    assert client_as("hand").post(f"/pieces/{bent.pk}/repair/", {"what": "x"}).status_code == 403
    manager.post(f"/pieces/{bent.pk}/repair/", {"what": "straighten", "estimate": "20"})
    order = RepairOrder.objects.get()
    said = {"type": yard.bolt.pk, "place": yard.yard.pk, "quantity": 2}
    manager.post(f"/repairs/{order.pk}/parts/", said)
    manager.post(f"/repairs/{order.pk}/done/", {"words": "straight again", "work_cost": "12.00"})
    shown = manager.get(f"/repairs/{order.pk}/").content.decode()
    assert "13.20" in shown and "Inspect it" in shown
    assert Event.objects.get(kind=Kind.REPAIRED).data["cost"] == "13.20"


def test_mending_and_buying_are_weighed_by_the_makers_uses_until_enough_is_seen(yard, bent, order, client_as):
    page = client_as("manager")
    assert "Too little is known to say" in page.get(f"/repairs/{order.pk}/").content.decode()
    yard.form.rated_uses, yard.form.replacement_value = 100, D(200)
    yard.form.save()
    shown = page.get(f"/repairs/{order.pk}/").content.decode()
    assert "Mending is cheaper a use" in shown and "0.20 against 2.00" in shown
