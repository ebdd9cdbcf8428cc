"""A small yard for tests of the ledger: one of each thing, fixed times, one-line reports."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import GroupKind, Kind, PlaceKind
from inventory.models import Device, Docket, GearType, Person, Piece, Place
from inventory.services.answering import Answer
from inventory.services.recording import record
from inventory.services.registering import NewPiece, register_pieces
from inventory.services.reports import Report

START = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)
NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)


def at(hours: float) -> datetime:
    return START + timedelta(hours=hours)


@dataclass
class Yard:
    yard: Place
    bay: Place
    site: Place
    other: Place
    pour: Place
    upper: Place
    form: GearType
    bracket: GearType
    crate: GearType
    bolt: GearType
    hand: Person
    phone: Device
    dockets: list[Docket] = field(default_factory=list)

    def docket(self, start: Place | None = None, end: Place | None = None) -> Docket:
        docket = Docket.objects.create(
            number=f"D{len(self.dockets) + 1}",
            direction="out",
            from_place=start or self.yard,
            to_place=end or self.site,
            opened_at=START,
        )
        self.dockets.append(docket)
        return docket

    def pieces(self, *codes: str, type: GearType | None = None, **more) -> list[Piece]:
        kind = type or self.form
        new = [NewPiece(kind.pk, (code,), self.yard.pk, **more) for code in codes]
        return register_pieces(new, by=self.hand, happened_at=START, now=NOW)

    def tell(self, kind: Kind, hours: float, **said) -> Answer:
        return self.send(Report(kind, at(hours), **said))[0]

    def send(self, *reports: Report, **more) -> list[Answer]:
        return record(reports, by=self.hand, device=self.phone, **{"now": NOW, **more})


def make_yard() -> Yard:
    yard = Place.objects.create(name="Home yard", kind=PlaceKind.YARD)
    site = Place.objects.create(name="Mill Lane", kind=PlaceKind.SITE)
    form = GearType(code="E150-3000", name="Edge form 150 x 3000", kind="edge form", section_mm=150, length_mm=3000)
    form.clean_after_every_pour = True
    form.save()
    return Yard(
        yard=yard,
        bay=Place.objects.create(name="Wash bay", kind=PlaceKind.WASH_BAY, parent=yard),
        site=site,
        other=Place.objects.create(name="Kiln Road", kind=PlaceKind.SITE),
        pour=Place.objects.create(name="Pour 1", kind=PlaceKind.POUR, parent=site),
        upper=Place.objects.create(name="Pour 2", kind=PlaceKind.POUR, parent=site),
        form=form,
        bracket=GearType.objects.create(code="FB", name="Form bracket", kind="form bracket"),
        crate=GearType.objects.create(code="CR", name="Crate", kind="crate"),
        bolt=GearType.objects.create(code="M12", name="Stud bolt", kind="bolt", tracked="by count"),
        hand=Person.objects.create(name="A hand"),
        phone=Device.objects.create(code="phone-1"),
    )


def pour_group(place: Place) -> Group:
    return Group(GroupKind.POUR, place.pk)


def docket_group(docket: Docket) -> Group:
    return Group(GroupKind.DOCKET, docket.pk)


def crate_group(piece: Piece) -> Group:
    return Group(GroupKind.CRATE, piece.pk)
