"""Gear that should have been there: asked after, found, or written off with its replacement value."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from inventory.errors import Refused
from inventory.lifecycle.kinds import Kind, Seen, Standing
from inventory.models import Docket, Missing, MissingNote, Person, Piece, Place, Submission
from inventory.services.recording import record
from inventory.services.reports import Report


@transaction.atomic
def miss(
    pieces: Iterable[Piece],
    *,
    missed: str,
    by: Person | None,
    now: datetime,
    docket: Docket | None = None,
    place: Place | None = None,
) -> list[Missing]:
    """Open a case for each piece that has none; a piece is asked after once at a time."""
    wanted = {piece.pk: piece for piece in pieces}
    had = set(Missing.objects.open().filter(piece__in=wanted).values_list("piece_id", flat=True))
    return Missing.objects.bulk_create(
        Missing(
            piece=piece,
            missed=missed,
            place=place if place is not None else piece.place,
            docket=docket,
            opened_at=now,
            opened_by=by,
        )
        for pk, piece in wanted.items()
        if pk not in had
    )


def ask_after(case: Missing, *, words: str, by: Person | None, now: datetime) -> MissingNote:
    """Who was asked, and what they said."""
    _is_open(case)
    return MissingNote.objects.create(missing=case, at=now, by=by, words=words)


@transaction.atomic
def found(case: Missing, *, place: Place, by: Person | None, now: datetime) -> None:
    """It is here. Written off before, that is undone: it stands on the books again, and on the bill."""
    _is_open(case)
    kind = Kind.FOUND if case.piece.standing == Standing.LOST else Kind.COUNTED
    _tell(Report(kind, now, piece=case.piece_id, place=place.pk, seen=Seen.TYPED, data={"missing": case.pk}), by, now)
    _close(case, Missing.Outcome.FOUND, now)


@transaction.atomic
def write_off(
    case: Missing, *, value: Decimal | None, charge: bool, reason: str, by: Person | None, now: datetime
) -> None:
    """Lost for good, as far as anybody knows: off the books, charged to the job or not.

    `value` is what another one costs; None leaves it to the terms of the job.
    """
    _is_open(case)
    if case.piece.standing != Standing.HELD:
        raise Refused("not-held", f"This piece is {case.piece.standing}: it is off the books already.")
    data = {"missing": case.pk, "charge": charge, "reason": reason} | ({} if value is None else {"value": str(value)})
    report = Report(Kind.LOST, now, piece=case.piece_id, seen=Seen.TYPED, data=data)
    _tell(report, by, now)
    _close(case, Missing.Outcome.WRITTEN_OFF, now)


def _tell(report: Report, by: Person | None, now: datetime) -> None:
    (answer,) = record([report], by=by, now=now)
    if answer.answer == Submission.Answer.REFUSED:
        raise Refused(answer.code, answer.sentence)


def _close(case: Missing, outcome: Missing.Outcome, now: datetime) -> None:
    case.closed_at, case.outcome = now, outcome
    case.save()


def _is_open(case: Missing) -> None:
    if case.closed_at:
        raise Refused("closed", f"This case is closed: {case.outcome}.")
