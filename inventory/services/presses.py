"""What can be done to one piece from its own page: each is a report to the ledger."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from inventory.errors import Refused
from inventory.lifecycle.kinds import Kind, Seen, Standing
from inventory.models import Person, Piece, Place, Submission
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
    photo: Any = None,
) -> Answer:
    """Record one thing about the piece, with its photo if there is one. Refused when the ledger refuses it."""
    _check(piece, kind)
    said = {name: value for name, value in (data or {}).items() if value not in ("", None)}
    report = Report(kind, now, piece=piece.pk, place=place.pk if place else None, seen=Seen.TYPED, data=said)
    (answer,) = record([report], by=by, now=now)
    if answer.answer == Submission.Answer.REFUSED:
        raise Refused(answer.code, answer.sentence)
    if photo is not None:
        keep_photo(report.id, photo, by=by, now=now)
    return answer


def _check(piece: Piece, kind: Kind) -> None:
    if kind in (Kind.RETIRED, Kind.LOST) and piece.standing not in (Standing.HELD, Standing.LOST):
        raise Refused("not-held", f"This piece is {piece.standing}: it is off the books already.")
    if kind == Kind.FOUND and piece.standing != Standing.LOST:
        raise Refused("not-lost", "This piece is not written off as lost, so it cannot be found.")
    if kind not in (Kind.RETIRED, Kind.LOST, Kind.FOUND) and piece.standing != Standing.HELD:
        raise Refused("not-held", f"This piece is {piece.standing}. Nothing more can be done to it in the yard.")
