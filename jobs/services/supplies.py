"""What is ordered from a supply, which orders count against it, and what a site promised about gear asked back."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime

from django.db import transaction

from inventory.models import Awaited, Place
from inventory.services.awaited import await_goods
from jobs.errors import Refused
from jobs.models import Chase, Ordered, Supply
from jobs.selectors.supplies import left_of, tickable


@transaction.atomic
def order_from(
    *, supply: Supply, place: Place, quantity: int, due_on: date, leaves_on: date | None = None, note: str = ""
) -> Awaited:
    """So many of it on order, and no longer to be had from it.

    Raises Refused ("not-so-many"): another job may have ordered from it since the number was worked out.
    """
    supply = Supply.objects.select_for_update(of=("self",)).select_related("type").get(pk=supply.pk)
    left = left_of([supply])[supply.pk].between(due_on, leaves_on or date.max)
    if left is not None and quantity > left:
        there = f"only {left} of {quantity}" if left else f"none of {quantity}"
        way = "hired in then" if supply.way == Supply.Way.HIRE else "bought"
        raise Refused("not-so-many", f"Of {supply.type.name}, {there} can still be {way}: look again.")
    made = await_goods(type_=supply.type, place=place, quantity=quantity, due_on=due_on, leaves_on=leaves_on, note=note)
    Ordered.objects.create(supply=supply, awaited=made, quantity=quantity)
    return made


@transaction.atomic
def count_orders(*, supply: Supply, orders: Collection[Awaited]) -> None:
    """Of the open orders of its type, these count against the supply and no others."""
    Supply.objects.select_for_update().get(pk=supply.pk)
    wanted = {order.pk: order for order in orders}
    for pk, counts in tickable(supply).items():
        if counts and pk not in wanted:
            supply.ordered.filter(awaited=pk).delete()
        elif pk in wanted and not counts:
            Ordered.objects.create(supply=supply, awaited=wanted[pk], quantity=wanted[pk].quantity)


def keep_promise(*, chase: Chase, promised_on: date | None, settled: bool, now: datetime) -> Chase:
    """Dates the gear anew, or takes that back; settled, it is no longer asked for."""
    chase.promised_on = promised_on
    chase.settled_at = (chase.settled_at or now) if settled else None
    chase.save(update_fields=["promised_on", "settled_at"])
    return chase
