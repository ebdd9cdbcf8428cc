"""Dockets from opening to closing. What pieces do on the way is told to the ledger; here is the paper itself."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from django.db import transaction
from django.utils import timezone

from inventory.errors import Refused
from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import Fitness, GroupKind, Kind, PlaceKind, Seen
from inventory.models import Docket, DocketLine, GearType, HandCount, Person, Place, YardSettings
from inventory.selectors.dockets import sheet
from inventory.services.recording import Answer, record
from inventory.services.reports import Report

NUMBER = "D-{:05d}"


@transaction.atomic
def open_docket(
    *,
    from_place: Place,
    to_place: Place,
    by: Person | None,
    wanted: Mapping[int, int] | None = None,
    vehicle: str = "",
    payload_limit_kg: int | None = None,
    driver: str = "",
    planned_on: date | None = None,
    note: str = "",
    now: datetime | None = None,
) -> Docket:
    """A docket with the next number. `wanted` is quantity by type id, as a load list gives it."""
    docket = Docket(
        number=_next_number(),
        direction=direction_of(from_place, to_place),
        from_place=from_place,
        to_place=to_place,
        vehicle=vehicle,
        payload_limit_kg=payload_limit_kg,
        driver=driver,
        planned_on=planned_on,
        opened_at=now or timezone.now(),
        opened_by=by,
        note=note,
    )
    docket.full_clean()
    docket.save()
    want(docket, wanted or {})
    return docket


def direction_of(from_place: Place, to_place: Place) -> Docket.Direction:
    ends = (PlaceKind(from_place.kind), PlaceKind(to_place.kind))
    if not set(ends) <= {PlaceKind.YARD, PlaceKind.SITE}:
        raise Refused("not-an-end", "A docket goes between yards and sites. Choose the yard or the site itself.")
    if from_place == to_place:
        raise Refused("same-place", "A docket goes from one place to another. Choose two different places.")
    if ends == (PlaceKind.YARD, PlaceKind.SITE):
        return Docket.Direction.OUT
    return Docket.Direction.BACK if ends == (PlaceKind.SITE, PlaceKind.YARD) else Docket.Direction.ACROSS


def _next_number() -> str:
    """Numbers run without gaps: the settings row is the lock, and a docket that is not saved takes no number."""
    YardSettings.current()
    YardSettings.objects.select_for_update().get(pk=1)
    last = Docket.objects.order_by("-id").values_list("number", flat=True).first()
    return NUMBER.format(int(last.rpartition("-")[2]) + 1 if last else 1)


@transaction.atomic
def want(docket: Docket, wanted: Mapping[int, int]) -> None:
    """What the docket is to carry, replacing what stood there; a quantity of nought takes the type off."""
    docket.lines.exclude(type__in=[type_ for type_, quantity in wanted.items() if quantity]).delete()
    for type_, quantity in wanted.items():
        if quantity:
            DocketLine.objects.update_or_create(docket=docket, type_id=type_, defaults={"wanted": quantity})


@transaction.atomic
def leave(
    docket: Docket,
    *,
    by: Person | None,
    vehicle: str,
    driver: str,
    signed_by: str,
    signature: str = "",
    at: datetime | None = None,
    overload_reason: str = "",
    now: datetime | None = None,
) -> Answer:
    """The truck leaves: one event for the whole docket."""
    now = now or timezone.now()
    docket = locked(docket)
    if docket.stage != "loading":
        raise Refused("not-loading", f"{docket} is {docket.stage}; only a docket that is being loaded can leave.")
    carried = sheet(docket)
    if not carried.loaded:
        raise Refused("nothing-loaded", f"Nothing is on {docket} yet. Scan what is on the truck first, or cancel it.")
    if carried.over_kg and not overload_reason:
        raise Refused(
            "over-the-limit",
            f"The load is {carried.over_kg:,.0f} kg over this truck's limit of {docket.payload_limit_kg:,} kg. "
            "Take something off, or have the manager say why the limit is wrong.",
        )
    docket.vehicle, docket.driver = vehicle, driver
    docket.left_at = at or now
    docket.left_signed_by, docket.left_signature = signed_by, signature
    if overload_reason:
        docket.note = f"{docket.note} Over the limit: {overload_reason}".strip()[:300]
    docket.full_clean()
    docket.save()
    return _press(docket, Kind.SENT, docket.from_place_id, docket.left_at, by, now)


@transaction.atomic
def receive(
    docket: Docket,
    *,
    by: Person | None,
    signed_by: str,
    signature: str = "",
    whole: bool = True,
    at: datetime | None = None,
    now: datetime | None = None,
) -> Answer | None:
    """The truck has arrived. `whole` says at one press that what was loaded came; exceptions are scanned.

    Coming back from a site, each piece is counted by itself, clean or dirty, so `whole` is then left off.
    """
    now = now or timezone.now()
    docket = locked(docket)
    if docket.stage == "loading":
        raise Refused("not-left", f"{docket} has not left yet. Say that it has left, then receive it.")
    if docket.stage != "on the road":
        raise Refused("not-on-the-road", f"{docket} is {docket.stage} already.")
    docket.received_at = at or now
    docket.received_signed_by, docket.received_signature = signed_by, signature
    if docket.received_at < (docket.left_at or docket.received_at):
        raise Refused("before-leaving", "It cannot arrive before it left. Check the time.")
    docket.full_clean()
    docket.save()
    if not whole:
        return None
    to_yard = docket.to_place.kind == PlaceKind.YARD
    kind = Kind.RETURNED if to_yard else Kind.RECEIVED
    return _press(docket, kind, docket.to_place_id, docket.received_at, by, now)


def _press(docket: Docket, kind: Kind, place: int, at: datetime, by: Person | None, now: datetime) -> Answer:
    report = Report(
        kind=kind,
        happened_at=at,
        group=Group(GroupKind.DOCKET, docket.pk),
        docket=docket.pk,
        place=place,
        seen=Seen.BY_GROUP,
    )
    return record([report], by=by, now=now)[0]


@transaction.atomic
def hand_count(docket: Docket, *, who: str, counts: Mapping[int, int], condition: str = Fitness.SOUND) -> None:
    """What the driver, the yard or the site counted, by type id. Each count stands beside the others."""
    if who not in HandCount.By.values:
        raise Refused("unknown-counter", "A count is the driver's, the yard's or the site's.")
    if any(quantity < 0 for quantity in counts.values()):
        raise Refused("negative-count", "A count is nought or more.")
    known = set(GearType.objects.filter(pk__in=counts).values_list("pk", flat=True))
    if known != set(counts):
        raise Refused("unknown-type", "One of the types counted is not in the catalogue.")
    for type_, quantity in counts.items():
        HandCount.objects.update_or_create(
            docket=docket, by=who, type_id=type_, condition=condition, defaults={"quantity": quantity}
        )


@transaction.atomic
def close(docket: Docket, *, now: datetime | None = None) -> Docket:
    """Counted at both ends and settled. Differences stay readable; closing only says that somebody has looked."""
    docket = locked(docket)
    if docket.stage != "received":
        raise Refused("not-received", f"{docket} is {docket.stage}. A docket is closed once it has been received.")
    docket.closed_at = now or timezone.now()
    docket.save(update_fields=["closed_at"])
    return docket


@transaction.atomic
def cancel(docket: Docket, *, now: datetime | None = None) -> Docket:
    docket = locked(docket)
    if docket.stage != "loading":
        raise Refused("not-loading", f"{docket} is {docket.stage}; it can no longer be cancelled.")
    if sheet(docket).loaded:
        raise Refused("still-loaded", f"Take everything off {docket} first: unload each scan, then cancel.")
    docket.cancelled_at = now or timezone.now()
    docket.save(update_fields=["cancelled_at"])
    return docket


def locked(docket: Docket) -> Docket:
    """The row as it stands now, held until this transaction ends, so that two presses cannot pass each other."""
    return Docket.objects.select_for_update(of=("self",)).select_related("from_place", "to_place").get(pk=docket.pk)
