"""Two yards, their people and everything they own, put on the books by the services that a real yard uses."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import datetime

from inventory.lifecycle.kinds import Kind, PlaceKind, Seen
from inventory.models import Device, GearType, Person, Piece, Place, YardSettings
from inventory.services.recording import record
from inventory.services.registering import NewPiece, register_pieces
from inventory.services.reports import Report
from inventory.tags import code as tag_code
from jobs.services.demo.catalogue import COUNTED, TAGGED, make_catalogue, owned

IN_A_CRATE = 20


@dataclass
class Fleet:
    """What the stories of the jobs draw on."""

    north: Place
    south: Place
    types: dict[str, GearType]
    people: dict[str, Person]
    yard_phone: Device
    slab_phone: Device
    rng: random.Random


def make_fleet(people: dict[str, Person], bought: datetime, rng: random.Random) -> Fleet:
    """Everything bought and counted at one moment, before the first job."""
    settings = YardSettings.current()
    settings.business_name = "Made-up Forms Hire"
    settings.who_to_call = "the demo yard, which does not exist"
    settings.save()
    north, south = (_yard(name) for name in ("North yard", "South yard"))
    phones = [Device.objects.create(code=code, name=name) for code, name in _PHONES]
    fleet = Fleet(north, south, make_catalogue(), people, phones[0], phones[1], rng)
    for at, yard in enumerate((north, south)):
        _register(fleet, yard, at, bought)
        _count_goods(fleet, yard, at, bought)
    return fleet


_PHONES = (("demo-yard-phone", "Yard phone"), ("demo-slab-phone", "Slab phone"))


def _yard(name: str) -> Place:
    yard = Place.objects.create(name=name, kind=PlaceKind.YARD, address="1 Nowhere Road, Example Town")
    Place.objects.create(name="Wash bay", kind=PlaceKind.WASH_BAY, parent=yard)
    Place.objects.create(name="Workshop", kind=PlaceKind.WORKSHOP, parent=yard)
    return yard


def _register(fleet: Fleet, yard: Place, column: int, at: datetime) -> None:
    crates = _crates(fleet, yard, column, at)
    new = []
    for code, *numbers in owned():
        type_ = fleet.types[code]
        for number in range(int(numbers[column])):
            crate = _crate_for(type_, number, crates)
            new.append(_new(fleet, type_, yard, crate=crate, uses=fleet.rng.randint(0, 45)))
    register_pieces(new, by=fleet.people["manager"], happened_at=at, now=at)


def _crates(fleet: Fleet, yard: Place, column: int, at: datetime) -> list[Piece]:
    (row,) = (row for row in TAGGED if row[2] == GearType.Kind.CRATE)
    new = [_new(fleet, fleet.types[row[0]], yard) for _ in range(int(row[6 + column]))]
    return register_pieces(new, by=fleet.people["manager"], happened_at=at, now=at)


def _crate_for(type_: GearType, number: int, crates: list[Piece]) -> int | None:
    """Half of the form brackets lie in crates, so that one scan moves twenty of them."""
    if type_.kind != GearType.Kind.FORM_BRACKET or number >= len(crates) * IN_A_CRATE // 2:
        return None
    return crates[number // IN_A_CRATE].pk


def _new(fleet: Fleet, type_: GearType, yard: Place, *, crate: int | None = None, uses: int = 0) -> NewPiece:
    return NewPiece(
        type_.pk, (tag_code.make(fleet.rng),), yard.pk, uses=uses, crate=crate, cost=type_.replacement_value
    )


def _count_goods(fleet: Fleet, yard: Place, column: int, at: datetime) -> None:
    """A count is how counted goods come on the books."""
    reports = [
        Report(
            Kind.COUNTED,
            at,
            type=fleet.types[row[0]].pk,
            quantity=int(row[6 + column]),
            place=yard.pk,
            seen=Seen.TYPED,
            data={"condition": "sound"},
        )
        for row in COUNTED
    ]
    record(reports, by=fleet.people["manager"], now=at)
