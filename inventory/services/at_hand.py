"""What is done to one piece in somebody's hands, away from any docket: cleaned, or found bent."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from inventory.errors import Refused
from inventory.lifecycle.kinds import Kind, Seen
from inventory.models import DamageReason, Event, Person, Place, Stocktake
from inventory.services.docket_scans import Scan
from inventory.services.recording import Answer, Manner, record
from inventory.services.reports import Report


def clean(scan: Scan, *, place: Place, now: datetime | None = None) -> Answer:
    return _tell(Kind.CLEANED, scan, place, {}, now)


def seen_here(scan: Scan, *, place: Place, now: datetime | None = None) -> Answer:
    """Counted in the stocktake that is open at this place. Refused: no-stocktake."""
    stocktake = Stocktake.objects.open().filter(place__in=[place.pk, place.parent_id or place.pk]).first()
    if stocktake is None:
        raise Refused("no-stocktake", f"No stocktake of {place} is open. The yard manager opens one first.")
    return _tell(Kind.COUNTED, scan, place, {"stocktake": stocktake.pk}, now)


def found_damaged(scan: Scan, *, place: Place, reason: DamageReason, grade: str, now: datetime | None = None) -> Answer:
    """Marked with a reason and a grade; unfit gear is locked until somebody has inspected it."""
    return _tell(Kind.FOUND_DAMAGED, scan, place, {"grade": grade, "reason": reason.words}, now)


def take_back(event: Event, *, by: Person | None, now: datetime | None = None) -> Answer:
    """Undo what one has just said of one piece. Both stay in its history."""
    if event.piece_id is None or event.kind == Kind.REVERSED:
        raise Refused("not-one-piece", "Only what was said of a single piece can be taken back here.")
    report = Report(
        kind=Kind.REVERSED,
        happened_at=max(now or timezone.now(), event.happened_at),
        piece=event.piece_id,
        target=event.id,
        seen=Seen.TYPED,
    )
    return record([report], by=by, now=now)[0]


def _tell(kind: Kind, scan: Scan, place: Place, data: dict[str, object], now: datetime | None) -> Answer:
    now = now or timezone.now()
    report = Report(
        kind=kind,
        happened_at=scan.at or now,
        tag=scan.code,
        piece=scan.piece.pk if scan.piece is not None and not scan.code else None,
        place=place.pk,
        seen=scan.seen,
        data=data,
    )
    return record([report], by=scan.by, device=scan.device, manner=Manner.TELL, now=now)[0]
