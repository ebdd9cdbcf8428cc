"""Putting pieces on the books, and new tags on pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory.errors import Refused
from inventory.lifecycle.kinds import Fitness, Kind, Seen
from inventory.models import Device, Person, Piece, Place, Tag
from inventory.services.recording import record
from inventory.services.reports import Report
from inventory.services.resolving import tag_code


@dataclass(frozen=True, slots=True)
class NewPiece:
    """One piece to register: its type, the code or codes of its tags, where it is and how.

    codes   the first becomes its label; a second is for a tag at the other end
    uses    casts before it came on these books
    """

    type: int
    codes: tuple[str, ...]
    place: int | None
    fitness: Fitness = Fitness.SOUND
    dirty: bool = False
    uses: int = 0
    crate: int | None = None
    giai: str | None = None
    bought_on: date | None = None
    cost: Decimal | None = None
    maker_batch: str = ""
    note: str = ""
    cut_from: int | None = None
    data: dict[str, Any] = field(default_factory=dict)


@transaction.atomic
def register_pieces(
    new: Sequence[NewPiece],
    *,
    by: Person | None,
    device: Device | None = None,
    happened_at: datetime | None = None,
    now: datetime | None = None,
) -> list[Piece]:
    """Store the pieces with their tags and register each in the ledger; all of them or none.

    A code that is already on a piece, or given twice, is refused: a tag is never used again.
    """
    now = now or timezone.now()
    at = happened_at or now
    codes = [[tag_code(code) for code in each.codes] for each in new]
    free = _free_tags([code for some in codes for code in some])
    pieces = Piece.objects.bulk_create(
        [_piece(each, some[0]) for each, some in zip(new, codes, strict=True)], batch_size=1000
    )
    _fix(free, {code: piece.pk for piece, some in zip(pieces, codes, strict=True) for code in some}, at)
    record(
        [_registered(each, piece, at) for each, piece in zip(new, pieces, strict=True)],
        by=by,
        device=device,
        now=now,
    )
    return list(Piece.objects.filter(pk__in=[piece.pk for piece in pieces]).order_by("pk"))


def _piece(each: NewPiece, label: str) -> Piece:
    return Piece(
        type_id=each.type,
        label=label,
        giai=each.giai or None,
        bought_on=each.bought_on,
        cost=each.cost,
        maker_batch=each.maker_batch,
        note=each.note,
        cut_from_id=each.cut_from,
    )


def _registered(each: NewPiece, piece: Piece, at: datetime) -> Report:
    said: dict[str, Any] = {"grade": each.fitness.value, "dirty": each.dirty, "uses": each.uses, "crate": each.crate}
    data = {**each.data, **{name: value for name, value in said.items() if value not in (None, False, 0)}}
    return Report(Kind.REGISTERED, at, piece=piece.pk, place=each.place, seen=Seen.TYPED, data=data)


def _free_tags(codes: Sequence[str]) -> dict[str, Tag]:
    """Tags already printed and on no piece yet, by code; refused if any code is taken, empty or given twice."""
    if len(set(codes)) < len(codes) or not all(codes):
        raise Refused("tag-twice", "Every piece needs a code of its own: one is missing or given twice.")
    found = {tag.code: tag for tag in Tag.objects.filter(code__in=codes)}
    taken = sorted(code for code, tag in found.items() if tag.piece_id is not None or tag.place_id is not None)
    if taken:
        raise Refused("tag-taken", f"{', '.join(taken[:5])}: already in use. A tag is never used again.")
    return found


def _fix(printed: dict[str, Tag], pieces: dict[str, int], at: datetime) -> None:
    for code, tag in printed.items():
        Tag.objects.filter(pk=tag.pk).update(piece_id=pieces[code], fixed_at=at)
    Tag.objects.bulk_create(
        [Tag(code=code, piece_id=pk, fixed_at=at) for code, pk in pieces.items() if code not in printed],
        batch_size=1000,
    )


@transaction.atomic
def retag(
    piece: Piece,
    code: str,
    *,
    by: Person | None,
    device: Device | None = None,
    withdraw: str = "",
    place: Place | None = None,
    happened_at: datetime | None = None,
    now: datetime | None = None,
) -> Tag:
    """Put a new tag on a piece. Its history stays; the tag it replaces is marked withdrawn and old scans still work."""
    now = now or timezone.now()
    at = happened_at or now
    new = tag_code(code)
    _fix(_free_tags([new]), {new: piece.pk}, at)
    if withdraw:
        Tag.objects.filter(piece=piece, code=tag_code(withdraw)).update(withdrawn_at=at)
    Piece.objects.filter(pk=piece.pk).update(label=new)
    data = {"code": new, **({"instead_of": tag_code(withdraw)} if withdraw else {})}
    report = Report(Kind.RETAGGED, at, piece=piece.pk, place=place.pk if place else None, seen=Seen.TYPED, data=data)
    record([report], by=by, device=device, now=now)
    piece.refresh_from_db()
    return Tag.objects.get(code=new)
