"""Counted goods: the quantities of one type, folded from its movements and counts.

A count asserts a quantity at one place in one condition at one moment; what happened before it, however late it
arrives, no longer changes that quantity. A quantity below zero is a finding, and is kept, since a late report may
explain it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from inventory.lifecycle.events import Event, Group
from inventory.lifecycle.fold import taken_back
from inventory.lifecycle.kinds import Fitness, GroupKind, Kind
from inventory.lifecycle.state import Finding
from inventory.lifecycle.world import Places


class Spot(NamedTuple):
    """Where goods lie: at a place or on a docket, never both; and in what condition."""

    place: int | None
    docket: int | None
    condition: Fitness


@dataclass
class Goods:
    """Quantities by spot, and the contradictions met."""

    quantities: dict[Spot, int] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def add(self, event: Event, spot: Spot, quantity: int) -> None:
        now = self.quantities.get(spot, 0) + quantity
        self.quantities[spot] = now
        if quantity < 0 and now < 0:
            self.findings.append(Finding("count-negative", event.id))

    def standing(self) -> Mapping[Spot, int]:
        return {spot: quantity for spot, quantity in self.quantities.items() if quantity}


def fold_counted(
    own: Sequence[Event],
    group_events: Callable[[Group], Sequence[Event]],
    docket_from: Mapping[int, int],
    places: Places,
) -> Goods:
    """Quantities of one type.

    own            all events about quantities of the type, in any order, reversals included
    group_events   for a docket, its events sorted by key, without those reversed for the whole docket
    docket_from    the place each docket leaves from
    """
    gone = taken_back(own)
    mine = [e for e in own if e.kind != Kind.REVERSED and e.id not in gone]
    dockets = {e.docket for e in mine if e.docket is not None}
    presses = [e for d in dockets for e in group_events(Group(GroupKind.DOCKET, d)) if e.id not in gone]
    goods = Goods()
    for event in sorted([*mine, *presses], key=lambda e: e.key):
        if event.group is not None:
            _press(goods, event)
        else:
            _move(goods, event, docket_from, places)
    return goods


def _condition(event: Event, name: str = "condition") -> Fitness:
    return Fitness(event.data.get(name, Fitness.SOUND))


def _press(goods: Goods, event: Event) -> None:
    """A docket received or returned as a whole: what is still on it is at the place."""
    if event.kind not in (Kind.RECEIVED, Kind.RETURNED) or event.group is None or event.place is None:
        return
    on_it = [(s, q) for s, q in goods.quantities.items() if s.docket == event.group.id and q > 0]
    for spot, quantity in on_it:
        goods.quantities[spot] = 0
        goods.add(event, Spot(event.place, None, spot.condition), quantity)


def _move(goods: Goods, event: Event, docket_from: Mapping[int, int], places: Places) -> None:
    quantity, condition = event.quantity or 0, _condition(event)
    here = Spot(event.place, None, condition)
    if event.kind == Kind.COUNTED and event.data.get("until_closed"):
        return  # counted in a stocktake: nothing follows until that is closed
    if event.kind in (Kind.COUNTED, Kind.REGISTERED):
        goods.quantities[here] = quantity
        return
    if event.kind in (Kind.RECEIVED, Kind.RETURNED) and event.docket is not None:
        _take_off(goods, event, condition, quantity)
        goods.add(event, here, quantity)
        return
    for spot, sign in _legs(event, here, docket_from, places):
        goods.add(event, spot, sign * quantity)


def _take_off(goods: Goods, event: Event, condition: Fitness, quantity: int) -> None:
    """Off the docket: what was loaded in that condition first, then what has changed condition on the way."""
    spots = [Spot(None, event.docket, each) for each in (condition, *(f for f in Fitness if f != condition))]
    for spot in spots:
        taken = min(quantity, max(0, goods.quantities.get(spot, 0)))
        if taken:
            goods.add(event, spot, -taken)
        quantity -= taken
    if quantity:
        goods.add(event, spots[0], -quantity)


def _legs(event: Event, here: Spot, docket_from: Mapping[int, int], places: Places) -> Iterable[tuple[Spot, int]]:
    """Where a movement takes from (-1) and where it adds to (+1)."""
    condition, docket = here.condition, event.docket
    on_docket = None if docket is None else Spot(None, docket, condition)
    from_place = event.data.get("from_place")
    if event.kind == Kind.SENT and on_docket is not None and docket is not None:
        start = from_place if from_place is not None else docket_from.get(docket)
        return [(Spot(start, None, condition), -1), (on_docket, +1)]
    if event.kind in (Kind.RECEIVED, Kind.RETURNED):
        return [(here, +1)] if from_place is None else [(Spot(from_place, None, condition), -1), (here, +1)]
    if event.kind == Kind.SET:
        return [(Spot(places.root(event.place), None, condition), -1), (here, +1)]
    if event.kind == Kind.STRIPPED and from_place is not None:
        return [(Spot(from_place, None, condition), -1), (here, +1)]
    if event.kind in (Kind.LOST, Kind.RETIRED):
        return [(here if event.place is not None or on_docket is None else on_docket, -1)]
    if event.kind == Kind.FOUND:
        return [(here, +1)]
    if event.kind in (Kind.FOUND_DAMAGED, Kind.INSPECTED, Kind.REPAIRED):
        return [(here, -1), (Spot(event.place, None, _condition(event, "grade")), +1)]
    return []
