"""What is scanned or typed at a truck: on it, off it, back from it; by tag, by crate, by quantity, or untagged."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from inventory.errors import Refused
from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import Fitness, GroupKind, Kind, PlaceKind, Seen
from inventory.models import DamageReason, Device, Docket, Event, GearType, Person, Piece
from inventory.services.dockets import locked
from inventory.services.recording import Answer, Manner, record
from inventory.services.reports import Report


@dataclass(frozen=True, slots=True)
class Scan:
    """One reading: what was read, by whom, when, and how.

    `code` as read, or `piece` where nothing was read; with both, the code is what is recorded and the piece is what
    it stands for now (so that a crate is known as one).
    """

    code: str = ""
    piece: Piece | None = None
    by: Person | None = None
    device: Device | None = None
    seen: Seen = Seen.SCANNED
    at: datetime | None = None
    id: UUID | None = None


@transaction.atomic
def load(docket: Docket, scan: Scan, *, override: str = "", now: datetime | None = None) -> Answer:
    """Onto the truck. Unfit gear is refused unless a manager gives the reason it goes all the same."""
    now = now or timezone.now()
    docket = locked(docket)
    if docket.stage != "loading":
        raise Refused("not-loading", f"{docket} is {docket.stage}: nothing more goes onto it. Open another docket.")
    piece = scan.piece
    if piece is not None and piece.type.is_crate:
        return _load_crate(docket, piece, scan, override, now)
    if piece is not None and piece.docket_id == docket.pk and piece.place_id is None:
        raise Refused("already-loaded", f"{piece} is on {docket} already.")
    report = _report(Kind.SENT, docket, scan, now, place=None, data={"from_place": docket.from_place_id})
    return _ask(report, scan, override, now)


def _load_crate(docket: Docket, crate: Piece, scan: Scan, override: str, now: datetime) -> Answer:
    """One press for the crate and all that is listed in it. Who was in it then is kept with the press."""
    contents = list(crate.contents.held().order_by("pk"))
    unfit = [piece.label for piece in contents if piece.fitness == Fitness.UNFIT]
    if unfit and not override and docket.to_place.kind != PlaceKind.YARD:
        named = ", ".join(unfit)
        raise Refused("unfit-refused", f"{named} in this crate is unfit. Take it out of the crate, then scan again.")
    data = {"from_place": docket.from_place_id, "contents": [piece.pk for piece in contents]}
    report = _report(
        Kind.SENT, docket, scan, now, place=None, data=data, group=Group(GroupKind.CRATE, crate.pk), piece=None
    )
    return _ask(report, scan, override, now)


def _ask(report: Report, scan: Scan, override: str, now: datetime) -> Answer:
    return record([report], by=scan.by, device=scan.device, manner=Manner.ASK, override=override, now=now)[0]


@transaction.atomic
def undo(docket: Docket, event: Event, *, by: Person | None, now: datetime | None = None) -> Answer:
    """Take one scan back: off the truck again, or not counted back after all. The scan stays in the history."""
    now = now or timezone.now()
    docket = locked(docket)
    if event.docket_id != docket.pk or event.group_kind == GroupKind.DOCKET:
        raise Refused("not-of-this-docket", f"That scan is not one of {docket}.")
    if docket.closed_at or docket.cancelled_at:
        raise Refused("closed", f"{docket} is {docket.stage}. Settle it in the review list instead.")
    if event.kind == Kind.SENT and docket.left_at:
        raise Refused("left", f"{docket} has left. Say at its arrival that the piece was not on it.")
    group = Group(GroupKind(event.group_kind), event.group_id) if event.group_kind and event.group_id else None
    report = Report(
        kind=Kind.REVERSED,
        happened_at=max(now, event.happened_at),
        piece=event.piece_id,
        group=group,
        type=event.type_id,
        docket=docket.pk,
        target=event.id,
        seen=Seen.TYPED,
    )
    return record([report], by=by, now=now)[0]


@transaction.atomic
def arrive(docket: Docket, scan: Scan, *, now: datetime | None = None) -> Answer:
    """The receiving end's own count, piece by piece. What was never loaded is taken too, and goes to review."""
    now = now or timezone.now()
    docket = _under_way(docket)
    kind = Kind.RETURNED if docket.to_place.kind == PlaceKind.YARD else Kind.RECEIVED
    report = _report(kind, docket, scan, now, place=docket.to_place_id, data={})
    return record([report], by=scan.by, device=scan.device, manner=Manner.TELL, now=now)[0]


@transaction.atomic
def not_arrived(docket: Docket, piece: Piece, *, by: Person | None, now: datetime | None = None) -> Answer:
    """An exception from "all of it came": the press is taken back for this one piece, which stays on the docket."""
    now = now or timezone.now()
    docket = locked(docket)
    press = (
        Event.objects.filter(group_kind=GroupKind.DOCKET, group_id=docket.pk, kind__in=[Kind.RECEIVED, Kind.RETURNED])
        .order_by("-happened_at")
        .first()
    )
    if press is None:
        raise Refused("not-received", f"{docket} was not received at one press, so there is nothing to except from.")
    report = Report(
        kind=Kind.REVERSED,
        happened_at=max(now, press.happened_at),
        piece=piece.pk,
        docket=docket.pk,
        target=press.id,
        seen=Seen.TYPED,
    )
    return record([report], by=by, now=now)[0]


@dataclass(frozen=True, slots=True)
class Damage:
    reason: DamageReason
    grade: str


@transaction.atomic
def come_back(
    docket: Docket, scan: Scan, *, dirty: bool, damage: Damage | None = None, now: datetime | None = None
) -> list[Answer]:
    """One piece counted back into the yard: clean or dirty, and what is bent or broken beside it.

    Never refused: it is here. What does not fit the record goes to review.
    """
    now = now or timezone.now()
    docket = _under_way(docket)
    data = {"dirty": dirty, "from_place": docket.from_place_id}
    if scan.piece is not None and scan.piece.type.is_crate:
        contents = list(scan.piece.contents.held().order_by("pk").values_list("pk", flat=True))
        group = Group(GroupKind.CRATE, scan.piece.pk)
        data["contents"] = contents  # type: ignore[assignment]
        back = _report(Kind.RETURNED, docket, scan, now, place=docket.to_place_id, data=data, group=group, piece=None)
    else:
        back = _report(Kind.RETURNED, docket, scan, now, place=docket.to_place_id, data=data)
    reports = [back]
    if damage is not None:
        reports.append(_damage_report(scan, docket, damage, back.happened_at))
    return record(reports, by=scan.by, device=scan.device, manner=Manner.TELL, now=now)


def _damage_report(scan: Scan, docket: Docket, damage: Damage, at: datetime) -> Report:
    return Report(
        kind=Kind.FOUND_DAMAGED,
        happened_at=at,
        seq=1,  # after the return it was found at, both at the same moment
        tag=scan.code,
        piece=_own(scan),
        place=docket.to_place_id,
        seen=scan.seen,
        data={"grade": damage.grade, "reason": damage.reason.words},
    )


@transaction.atomic
def move_goods(
    docket: Docket,
    type_: GearType,
    quantity: int,
    *,
    by: Person | None,
    back: bool = False,
    condition: str = Fitness.SOUND,
    at: datetime | None = None,
    now: datetime | None = None,
) -> Answer:
    """Counted goods by quantity: onto the truck, or off it at the other end in the condition they are in."""
    now = now or timezone.now()
    docket = locked(docket)
    if type_.tracked != GearType.Tracked.BY_COUNT:
        raise Refused("tracked-by-tag", f"{type_.name} is tracked by tag. Scan each piece.")
    if quantity < 1:
        raise Refused("no-quantity", "Say how many, at least one.")
    if not back and docket.stage != "loading":
        raise Refused("not-loading", f"{docket} is {docket.stage}: nothing more goes onto it. Open another docket.")
    to_yard = docket.to_place.kind == PlaceKind.YARD
    kind = (Kind.RETURNED if to_yard else Kind.RECEIVED) if back else Kind.SENT
    report = Report(
        kind=kind,
        happened_at=at or now,
        type=type_.pk,
        quantity=quantity,
        place=docket.to_place_id if back else docket.from_place_id,
        docket=docket.pk,
        seen=Seen.TYPED,
        data={"from_place": docket.from_place_id, "condition": condition},
    )
    return record([report], by=by, now=now)[0]


@transaction.atomic
def untagged_back(
    docket: Docket,
    type_: GearType,
    *,
    by: Person | None,
    dirty: bool,
    damage: Damage | None = None,
    at: datetime | None = None,
    now: datetime | None = None,
) -> Answer:
    """A piece without a readable tag, by type and the job it came from; it is bound to a piece in review."""
    now = now or timezone.now()
    docket = _under_way(docket)
    data: dict[str, Any] = {"untagged": True, "dirty": dirty, "from_place": docket.from_place_id}
    if damage is not None:
        data |= {"grade": damage.grade, "reason": damage.reason.words}
    report = Report(
        kind=Kind.RETURNED,
        happened_at=at or now,
        type=type_.pk,
        quantity=1,
        place=docket.to_place_id,
        docket=docket.pk,
        seen=Seen.TYPED,
        data=data,
    )
    return record([report], by=by, manner=Manner.TELL, now=now)[0]


def _report(
    kind: Kind, docket: Docket, scan: Scan, now: datetime, *, place: int | None, data: dict[str, Any], **more: Any
) -> Report:
    about: dict[str, Any] = {"piece": _own(scan), **more}
    if scan.id is not None:
        about["id"] = scan.id
    return Report(
        kind=kind,
        happened_at=scan.at or now,
        tag="" if "group" in more else scan.code,
        place=place,
        docket=docket.pk,
        seen=scan.seen,
        data=data,
        **about,
    )


def _own(scan: Scan) -> int | None:
    """The piece as given; where a code was read the ledger resolves it, as of when it was read."""
    return scan.piece.pk if scan.piece is not None and not scan.code else None


def _under_way(docket: Docket) -> Docket:
    docket = locked(docket)
    if docket.closed_at or docket.cancelled_at:
        raise Refused("closed", f"{docket} is {docket.stage}. Open another docket for what still comes.")
    return docket
