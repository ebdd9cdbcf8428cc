"""What can still be had of the supplies listed: what was ordered from them and not called off is taken off."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from inventory.models import Awaited
from jobs.models import Ordered, Supply
from jobs.planning.remedies.left import Left, Taken


@dataclass(frozen=True)
class OrderRow:
    """One order from a supply: so many of it still count, of which `came` have come."""

    order: Awaited
    count: int
    came: int


def left_of(supplies: Iterable[Supply]) -> dict[int, Left]:
    """By supply."""
    listed = {supply.pk: supply for supply in supplies}
    taken: dict[int, list[Taken]] = defaultdict(list)
    for row in Ordered.objects.filter(supply__in=listed).select_related("awaited"):
        taken[row.supply_id] += _taken(row)
    return {pk: Left(supply.most, supply.way == Supply.Way.HIRE, tuple(taken[pk])) for pk, supply in listed.items()}


def orders_of(supply: Supply, today: date) -> list[OrderRow]:
    """Those that count against it: what is hired in and goes back by today can be had again."""
    found = []
    for row in supply.ordered.select_related("awaited__place"):
        gone = supply.way == Supply.Way.HIRE and row.awaited.leaves_on and row.awaited.leaves_on <= today
        count = 0 if gone else sum(each.count for each in _taken(row))
        if count:
            found.append(OrderRow(row.awaited, count, _came(row)))
    return found


def tickable(supply: Supply) -> dict[int, bool]:
    """Open orders of its type, by number: whether each counts against it. Those of other supplies are not among them,
    nor is an order of which some have come: the rest alone would be too few."""
    others = Ordered.objects.exclude(supply=supply)
    open_ones = Awaited.objects.open().filter(type=supply.type_id).exclude(pk__in=others.values("awaited"))
    mine = {row.awaited_id: row.quantity for row in supply.ordered.all()}
    return {row.pk: row.pk in mine for row in open_ones if mine.get(row.pk, row.quantity) == row.quantity}


def _came(row: Ordered) -> int:
    return row.quantity if row.awaited.came_at else row.quantity - row.awaited.quantity


def _taken(row: Ordered) -> Iterator[Taken]:
    """What has come is with us now, whatever day it was due; the rest is from its day on, late or not."""
    order, came = row.awaited, _came(row)
    if came:
        yield Taken(came, None, order.leaves_on)
    if not order.came_at and not order.called_off_at:
        yield Taken(order.quantity, order.due_on, order.leaves_on)


def least_left(left: Left, today: date) -> tuple[int, date] | None:
    """The fewest that can be had on any day from today on, and the first such day; None where any number can."""
    steps = list(left.steps(today))
    if not steps:
        return None
    day, count = min(steps, key=lambda step: (step[1], step[0]))
    return count, day
