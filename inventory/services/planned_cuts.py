"""Planning a length to be cut down, dating its parts anew, and calling it off; the saw itself is `cutting_down`."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from inventory.errors import Refused
from inventory.models import GearType, Person, Piece, PlannedCut, PlannedPart, YardSettings
from inventory.services.cutting_down import may_be_cut, reckon


@transaction.atomic
def plan_cut(
    piece: Piece, types: Sequence[GearType], *, ready_on: date, why: str, by: Person | None, now: datetime
) -> PlannedCut:
    """The piece counts for nothing else from now on, its parts from the day they are ready."""
    may_be_cut(piece, types)
    reckon(piece, types, YardSettings.current().saw_kerf_mm)
    if PlannedCut.objects.open().filter(piece=piece).exists():
        raise Refused("planned", "This length is planned to be cut already. Call that off first.")
    cut = PlannedCut.objects.create(piece=piece, ready_on=ready_on, why=why, asked_at=now, asked_by=by)
    PlannedPart.objects.bulk_create(PlannedPart(cut=cut, type=kind) for kind in types)
    return cut


@transaction.atomic
def call_off_cut(cut: PlannedCut, *, now: datetime) -> None:
    """The length counts as it did before; nothing is cut."""
    cut = _open(cut)
    cut.called_off_at = now
    cut.save(update_fields=["called_off_at"])


@transaction.atomic
def date_cut_anew(cut: PlannedCut, ready_on: date) -> None:
    cut = _open(cut)
    cut.ready_on = ready_on
    cut.save(update_fields=["ready_on"])


def _open(cut: PlannedCut) -> PlannedCut:
    row = PlannedCut.objects.select_for_update(of=("self",)).get(pk=cut.pk)
    if row.done_at or row.called_off_at:
        raise Refused("over", "This length is cut already, or its cut was called off.")
    return row
