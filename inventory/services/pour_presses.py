"""At the pour: the whole of it at one press, and exceptions piece by piece."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from inventory.errors import Refused
from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import GROUP_PRESSES, GroupKind, Kind, PlaceKind, Seen
from inventory.models import Docket, Event, Person, Piece, Place
from inventory.models.gear import NEVER_SET
from inventory.services.docket_scans import Scan
from inventory.services.recording import Answer, Manner, record
from inventory.services.reports import Report

WHOLE = GROUP_PRESSES[GroupKind.POUR] - {Kind.SET}


def press(
    pour: Place, kind: Kind, *, by: Person | None, at: datetime | None = None, now: datetime | None = None
) -> Answer:
    """Cast, called off, stripped or cleaned: said of every piece that is in the pour at that moment."""
    if kind not in WHOLE:
        raise Refused("not-a-press", f"“{kind}” is not said of a whole pour.")
    _is_pour(pour)
    _has_gear(pour)
    return _record(kind, Group(GroupKind.POUR, pour.pk), by, at, now)


def set_from_pour(
    below: Place, pour: Place, *, by: Person | None, override: str = "", now: datetime | None = None
) -> Answer:
    """Up a level: what was stripped from the pour below is set in this one, all of it."""
    _is_pour(below)
    _is_pour(pour)
    _has_gear(below)
    group = Group(GroupKind.POUR, below.pk)
    return _record(Kind.SET, group, by, None, now, place=pour, manner=Manner.ASK, override=override)


def set_from_docket(
    docket: Docket, pour: Place, *, by: Person | None, override: str = "", now: datetime | None = None
) -> Answer:
    """Everything that came with this docket and has not been set anywhere is set in this pour."""
    _is_pour(pour)
    if docket.to_place_id != pour.parent_id:
        raise Refused("other-site", f"{docket} went to another site. Choose one that came here.")
    lying = Piece.objects.held().filter(docket=docket, place=docket.to_place, pour=None)
    if not lying.exclude(type__kind__in=NEVER_SET).exists():
        raise Refused("nothing-there", f"Nothing from {docket} is left to set. Receive it first, or scan the pieces.")
    group = Group(GroupKind.DOCKET, docket.pk)
    return _record(Kind.SET, group, by, None, now, place=pour, manner=Manner.ASK, override=override)


def _record(
    kind: Kind,
    group: Group,
    by: Person | None,
    at: datetime | None,
    now: datetime | None,
    *,
    place: Place | None = None,
    manner: Manner = Manner.TELL,
    override: str = "",
) -> Answer:
    now = now or timezone.now()
    report = Report(kind, at or now, group=group, place=place.pk if place else None, seen=Seen.BY_GROUP)
    return record([report], by=by, manner=manner, override=override, now=now)[0]


def set_one(scan: Scan, pour: Place, *, override: str = "", now: datetime | None = None) -> Answer:
    """One piece into the pour. Unfit gear is refused unless a manager gives the reason."""
    return _one(Kind.SET, scan, pour, now, manner=Manner.ASK, override=override)


def strip_one(scan: Scan, pour: Place, *, now: datetime | None = None) -> Answer:
    return _one(Kind.STRIPPED, scan, pour.parent or pour, now)


def _one(
    kind: Kind, scan: Scan, place: Place, now: datetime | None, *, manner: Manner = Manner.TELL, override: str = ""
) -> Answer:
    now = now or timezone.now()
    report = Report(kind, scan.at or now, tag=scan.code, place=place.pk, seen=scan.seen)
    return record([report], by=scan.by, device=scan.device, manner=manner, override=override, now=now)[0]


@transaction.atomic
def was_not_in(scan: Scan, pour: Place, *, now: datetime | None = None) -> Answer:
    """The last press on the pour did not concern this piece: it is taken back for the piece alone."""
    now = now or timezone.now()
    if scan.piece is None:
        raise Refused("no-piece", "No piece carries this tag.")
    last = last_press(pour)
    if last is None or scan.piece.pour_id != pour.pk:
        raise Refused("not-in-it", f"{scan.piece} was not in {pour} by any press. Nothing to take back.")
    report = Report(Kind.REVERSED, max(now, last.happened_at), piece=scan.piece.pk, target=last.id, seen=scan.seen)
    return record([report], by=scan.by, device=scan.device, now=now)[0]


def last_press(pour: Place) -> Event | None:
    """The newest press on the whole pour, its setting included, that has not been taken back for all of it."""
    own = Q(group_kind=GroupKind.POUR, group_id=pour.pk) & ~Q(kind__in=[Kind.SET, Kind.REVERSED])
    setting = Q(kind=Kind.SET, place=pour, group_kind__in=[GroupKind.POUR, GroupKind.DOCKET])
    for event in Event.objects.filter(own | setting).order_by("-happened_at", "-seq", "-id")[:20]:
        if not Event.objects.filter(kind=Kind.REVERSED, target=event.id, piece=None).exists():
            return event
    return None


@transaction.atomic
def undo_press(pour: Place, *, by: Person | None, now: datetime | None = None) -> Answer:
    """Take the last press on the pour back, for all of it. Both stay in the history."""
    now = now or timezone.now()
    last = last_press(pour)
    if last is None:
        raise Refused("nothing-pressed", f"Nothing was pressed for {pour} that could be taken back.")
    group = Group(GroupKind(last.group_kind), last.group_id or 0)
    report = Report(Kind.REVERSED, max(now, last.happened_at), group=group, target=last.id, seen=Seen.TYPED)
    return record([report], by=by, now=now)[0]


def _is_pour(place: Place) -> None:
    if place.kind != PlaceKind.POUR:
        raise Refused("not-a-pour", f"{place} is not a pour.")


def _has_gear(pour: Place) -> None:
    if not Piece.objects.held().filter(pour=pour).exists():
        raise Refused("empty-pour", f"No gear is recorded in {pour}. Set it first: from a docket, or by scanning.")
