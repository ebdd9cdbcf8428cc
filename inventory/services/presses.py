"""What can be done to one piece from its own page: each is a report to the ledger."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from inventory.errors import Refused
from inventory.lifecycle.kinds import Kind, Seen, Standing
from inventory.models import Docket, Person, Piece, Place, RepairOrder, Submission
from inventory.services.photos import keep_photo
from inventory.services.recording import Answer, record
from inventory.services.reports import Report


@transaction.atomic
def press(
    piece: Piece,
    kind: Kind,
    *,
    by: Person | None,
    now: datetime,
    place: Place | None = None,
    data: Mapping[str, Any] | None = None,
    docket: Docket | None = None,
    photos: Iterable[Any] = (),
) -> Answer:
    """Record one thing about the piece, with its photos if there are any. Refused when the ledger refuses it."""
    _check(piece, kind, data or {})
    said = {name: value for name, value in (data or {}).items() if value not in ("", None)}
    report = Report(
        kind,
        now,
        piece=piece.pk,
        place=place.pk if place else None,
        docket=docket.pk if docket else None,
        seen=Seen.TYPED,
        data=said,
    )
    (answer,) = record([report], by=by, now=now)
    if answer.answer == Submission.Answer.REFUSED:
        raise Refused(answer.code, answer.sentence)
    if kind == Kind.INSPECTED:
        RepairOrder.objects.to_inspect().filter(piece=piece).update(inspected_at=now)
    for photo in photos:
        keep_photo(report.id, photo, by=by, now=now)
    return answer


def _check(piece: Piece, kind: Kind, data: Mapping[str, Any]) -> None:
    if kind == Kind.INSPECTED and not (data.get("by_name") and data.get("checked")):
        raise Refused("inspection-unnamed", "Say who inspected it and what was checked.")
    if kind == Kind.RETIRED and hasattr(piece, "hired_in") and data.get("how") != "gone back":
        raise Refused("not-ours", "This piece is hired in: it goes back to its owner, and is never retired or sold.")
    if kind in (Kind.RETIRED, Kind.LOST) and piece.standing not in (Standing.HELD, Standing.LOST):
        raise Refused("not-held", f"This piece is {piece.standing}: it is off the books already.")
    if kind == Kind.FOUND and piece.standing != Standing.LOST:
        raise Refused("not-lost", "This piece is not written off as lost, so it cannot be found.")
    if kind not in (Kind.RETIRED, Kind.LOST, Kind.FOUND) and piece.standing != Standing.HELD:
        raise Refused("not-held", f"This piece is {piece.standing}. Nothing more can be done to it in the yard.")
