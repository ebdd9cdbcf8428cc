"""Goods on order: counted on from their day, and on the books once they have come."""

from __future__ import annotations

from datetime import date

import pytest
from django.urls import reverse

from inventory.errors import Refused
from inventory.lifecycle.kinds import PlaceKind
from inventory.models import Awaited, CountedStock, Event
from inventory.services.awaited import await_goods, call_off, came
from tests import factories

pytestmark = pytest.mark.django_db
DUE = date(2027, 3, 8)


@pytest.fixture
def order():
    goods = factories.CountedStockFactory(quantity=5).type
    CountedStock.objects.all().delete()
    yard = factories.PlaceFactory(kind=PlaceKind.YARD)
    return await_goods(type_=goods, place=yard, quantity=100, due_on=DUE, note="order 17")


def there(order):
    return sum(CountedStock.objects.filter(type=order.type, place=order.place).values_list("quantity", flat=True))


def test_what_comes_is_added_to_what_lies_there_and_the_rest_stays_on_order(order):
    came(order, 60, by=None)
    assert there(order) == 60
    (rest,) = Awaited.objects.open()
    assert (rest.quantity, rest.due_on, rest.note) == (40, DUE, "order 17")
    came(rest, 40, by=None)
    assert there(order) == 100 and not Awaited.objects.open().exists()


def test_what_came_is_not_taken_in_twice_nor_called_off(order):
    came(order, 100, by=None)
    for again in (lambda: came(order, 1, by=None), lambda: call_off(order)):
        with pytest.raises(Refused):
            again()
    assert there(order) == 100


def test_more_than_was_ordered_is_asked_back(order):
    with pytest.raises(Refused):
        came(order, 101, by=None)


def test_tagged_gear_that_came_is_registered_by_its_tags_and_not_by_number():
    form = factories.GearTypeFactory()
    order = await_goods(type_=form, place=factories.PlaceFactory(kind=PlaceKind.YARD), quantity=3, due_on=DUE)
    assert "Register each with its tag" in came(order, 3, by=None)
    assert not Event.objects.exists()


def test_only_a_yard_awaits_goods(order):
    with pytest.raises(Refused):
        await_goods(type_=order.type, place=factories.PlaceFactory(kind=PlaceKind.SITE), quantity=1, due_on=DUE)


def test_the_pages_order_take_in_and_date_anew(client_as, order):
    planner = client_as("planner")
    said = {"type": order.type_id, "place": order.place_id, "quantity": 7, "due_on": "2027-03-09", "note": ""}
    planner.post(reverse("awaited-new"), said)
    assert Awaited.objects.open().count() == 2
    url = reverse("awaited-one", args=[order.pk])
    planner.post(url, {"done": "later", "due_on": "2027-04-01", "quantity": ""})
    order.refresh_from_db()
    assert order.due_on == date(2027, 4, 1)
    planner.post(url, {"done": "off"})
    assert list(Awaited.objects.open().values_list("quantity", flat=True)) == [7]
    page = client_as("hand").get(reverse("awaited")).content.decode()
    assert "7" in page and "Put goods on order" not in page
