"""Goods on order: entered, come, or called off. What comes of counted goods is added to what lies there."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from inventory.errors import Refused
from inventory.lifecycle.kinds import Kind, PlaceKind, Seen
from inventory.models import Awaited, GearType, Person, Place
from inventory.services.recording import record
from inventory.services.reports import Report


def await_goods(
    *, type_: GearType, place: Place, quantity: int, due_on: date, note: str = "", leaves_on: date | None = None
) -> Awaited:
    """So many of a type on order, to come to a yard on a day; hired in, to leave it again on another."""
    if place.kind != PlaceKind.YARD:
        raise Refused("not-a-yard", f"{place} is not a yard: what is ordered comes to a yard.")
    made = Awaited(type=type_, place=place, quantity=quantity, due_on=due_on, note=note, leaves_on=leaves_on)
    made.full_clean()
    made.save()
    return made


@transaction.atomic
def came(awaited: Awaited, quantity: int, *, by: Person | None, now: datetime | None = None) -> str:
    """They have come, so many of them; the rest stays on order. Answers in words.

    Counted goods are in the yard from now on; tagged ones are there once they are registered, each by its tag.
    """
    now = now or timezone.now()
    awaited = _open(awaited)
    if not 1 <= quantity <= awaited.quantity:
        raise Refused("quantity", f"Say how many came, from 1 to {awaited.quantity}.")
    if quantity < awaited.quantity:
        # What came gets the new row: whoever knows the order by its own finds there what is still to come.
        Awaited.objects.create(
            type=awaited.type,
            place=awaited.place,
            quantity=quantity,
            due_on=awaited.due_on,
            leaves_on=awaited.leaves_on,
            note=awaited.note,
            came_at=now,
        )
        awaited.quantity -= quantity
    else:
        awaited.came_at = now
    awaited.save(update_fields=["quantity", "came_at"])
    if awaited.type.tracked == GearType.Tracked.BY_TAG:
        return f"{quantity} x {awaited.type.name} came. Register each with its tag, then they are on the books."
    # what is new to the books adds to what lies there, as something found does
    report = Report(Kind.FOUND, now, type=awaited.type_id, place=awaited.place_id, quantity=quantity, seen=Seen.TYPED)
    record([report], by=by, now=now)
    return f"{quantity} x {awaited.type.name} are at {awaited.place} now."


@transaction.atomic
def call_off(awaited: Awaited, *, now: datetime | None = None) -> None:
    awaited = _open(awaited)
    awaited.called_off_at = now or timezone.now()
    awaited.save(update_fields=["called_off_at"])


@transaction.atomic
def date_anew(awaited: Awaited, due_on: date) -> None:
    awaited = _open(awaited)
    if awaited.leaves_on and due_on >= awaited.leaves_on:
        raise Refused("leaves-first", f"It is hired in and goes back on {awaited.leaves_on}: give an earlier day.")
    awaited.due_on = due_on
    awaited.save(update_fields=["due_on"])


def _open(awaited: Awaited) -> Awaited:
    row = Awaited.objects.select_for_update(of=("self",)).select_related("type", "place").get(pk=awaited.pk)
    if row.came_at or row.called_off_at:
        raise Refused("over", "This order is over already: it came, or was called off.")
    return row
