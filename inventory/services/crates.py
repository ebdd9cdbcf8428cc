"""What lies in a crate: one scan of the crate speaks for all of it, so packing is recorded like everything else."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from inventory.errors import Refused
from inventory.lifecycle.kinds import Kind, Seen, Standing
from inventory.models import Person, Piece, Tag
from inventory.services.recording import record
from inventory.services.reports import Report


def pack(crate: Piece, codes: Sequence[str], *, by: Person | None, now: datetime) -> int:
    """List these pieces as contents; how many were not in it before. All or none. Refused: crate-*."""
    if crate.standing != Standing.HELD:
        raise Refused("crate-gone", f"This crate is {crate.standing}: nothing can be packed in it.")
    tags = {tag.code: tag for tag in Tag.objects.filter(code__in=codes).select_related("piece__type")}
    pieces: dict[int, Piece] = {}
    for code in codes:
        piece = tags[code].piece if code in tags else None
        if piece is None:
            raise Refused("crate-unknown", f"No piece carries {code}. Nothing was packed; take it out of the list.")
        if piece.type.is_crate:
            raise Refused("crate-in-crate", f"{code} is a crate itself. A crate holds pieces, not crates.")
        pieces[piece.pk] = piece
    new = [piece for piece in pieces.values() if piece.crate_id != crate.pk]
    _say(new, crate.pk, by, now)
    return len(new)


def unpack(crate: Piece, pieces: Sequence[Piece], *, by: Person | None, now: datetime) -> int:
    """Take these pieces off its list; how many were on it."""
    held = [piece for piece in pieces if piece.crate_id == crate.pk]
    _say(held, None, by, now)
    return len(held)


def _say(pieces: Sequence[Piece], crate: int | None, by: Person | None, now: datetime) -> None:
    reports = [Report(Kind.COUNTED, now, piece=piece.pk, seen=Seen.TYPED, data={"crate": crate}) for piece in pieces]
    record(reports, by=by, now=now)
