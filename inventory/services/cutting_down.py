"""A length cut into shorter ones: it leaves the books, its parts come on them with its history behind them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

from django.db import transaction

from inventory.errors import Refused
from inventory.figures.cost import shared_by_length
from inventory.lifecycle.kinds import Fitness, Kind, Phase, Seen, Standing
from inventory.models import GearType, Person, Piece, PlannedCut, RepairOrder, Submission
from inventory.services.recording import record
from inventory.services.registering import NewPiece, register_pieces
from inventory.services.reports import Report


class Part(NamedTuple):
    """One of the lengths it is cut into, and the code of the tag that goes on it."""

    type: GearType
    code: str


@dataclass(frozen=True, slots=True)
class Cut:
    """What the saw leaves of a length; mm, and the offcut's mass in kg."""

    parts_mm: int
    cuts: int
    kerf_mm: int
    offcut_mm: int
    offcut_kg: Decimal


def reckon(piece: Piece, types: Sequence[GearType], kerf_mm: int) -> Cut:
    """Cuts, saw loss and offcut. Refused, with the measure that is missing, where the parts do not fit."""
    whole, parts = piece.type.length_mm or 0, [kind.length_mm or 0 for kind in types]
    if not parts:
        raise Refused("no-parts", "Say into which lengths it is cut.")
    if not all(0 < part < whole for part in parts):
        raise Refused("part-length", "Every part is shorter than the length it is cut from.")
    between = sum(parts) + (len(parts) - 1) * kerf_mm
    if between > whole:
        raise Refused("too-long", f"The parts and saw cuts take {between:,} mm; the length has {whole:,} mm.")
    cuts = len(parts) - 1 if between == whole else len(parts)
    offcut = max(0, whole - sum(parts) - cuts * kerf_mm)
    mass = (piece.type.mass_kg * offcut / whole).quantize(Decimal("0.001"), ROUND_HALF_UP)
    return Cut(sum(parts), cuts, whole - sum(parts) - offcut, offcut, mass)


@transaction.atomic
def cut_down(
    piece: Piece, parts: Sequence[Part], *, kerf_mm: int, why: str, by: Person | None, now: datetime
) -> list[Piece]:
    """Retire the length as cut down and register its parts: its uses, its grade, its dirt, its cost by length."""
    may_be_cut(piece, [part.type for part in parts])
    cut = reckon(piece, [part.type for part in parts], kerf_mm)
    costs = _costs(piece, parts)
    new = [
        NewPiece(
            part.type.pk,
            (part.code,),
            piece.place_id,
            fitness=Fitness(piece.fitness),
            dirty=piece.dirty,
            uses=piece.uses,
            bought_on=piece.bought_on,
            cost=cost,
            maker_batch=piece.maker_batch,
            cut_from=piece.pk,
            data={"cut_from": piece.pk},
        )
        for part, cost in zip(parts, costs, strict=True)
    ]
    made = register_pieces(new, by=by, now=now)
    data = {
        "parts": [each.pk for each in made],
        "kerf_mm": cut.kerf_mm,
        "offcut_mm": cut.offcut_mm,
        "scrap_kg": str(cut.offcut_kg),
        "reason": why,
    }
    (answer,) = record([Report(Kind.CUT_DOWN, now, piece=piece.pk, seen=Seen.TYPED, data=data)], by=by, now=now)
    if answer.answer == Submission.Answer.REFUSED:
        raise Refused(answer.code, answer.sentence)
    RepairOrder.objects.open().filter(piece=piece).update(given_up_at=now, why_given_up="cut down instead")
    PlannedCut.objects.open().filter(piece=piece).update(done_at=now)
    return made


def _costs(piece: Piece, parts: Sequence[Part]) -> list[Decimal | None]:
    if piece.cost is None:
        return [None] * len(parts)
    return list(shared_by_length(piece.cost, piece.type.length_mm or 0, [part.type.length_mm or 0 for part in parts]))


def may_be_cut(piece: Piece, types: Sequence[GearType]) -> None:
    """Refused, with what stands against it, where a piece may not be cut into these."""
    if piece.standing != Standing.HELD or piece.place_id is None:
        raise Refused("not-here", "Only a length that is held, and at a place, can be cut.")
    if hasattr(piece, "hired_in"):
        raise Refused("not-ours", "This length is hired in: it is never cut.")
    if piece.phase in (Phase.SET, Phase.CAST, Phase.CALLED_OFF):
        raise Refused("in-a-pour", "It is in a pour. Strip it first.")
    if piece.type.kind != GearType.Kind.EDGE_FORM:
        raise Refused("no-length", "Only edge forms are cut down.")
    wrong = [kind.code for kind in types if kind.section_mm != piece.type.section_mm]
    if wrong:
        raise Refused(
            "other-section", f"{', '.join(wrong)}: another section. Parts keep the section they are cut from."
        )
