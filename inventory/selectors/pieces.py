"""Pieces as lists and pages ask for them: state in words, and which piece a code means."""

from __future__ import annotations

from django.db.models import Q, QuerySet

from inventory.lifecycle.kinds import Fitness, Phase, Standing
from inventory.models import Piece, Tag

STATES: dict[str, Q] = {
    "held": Q(standing=Standing.HELD),
    "clean": Q(standing=Standing.HELD, dirty=False),
    "dirty": Q(standing=Standing.HELD, dirty=True),
    "sound": Q(standing=Standing.HELD, fitness=Fitness.SOUND),
    "watch": Q(standing=Standing.HELD, fitness=Fitness.WATCH),
    "unfit": Q(standing=Standing.HELD, fitness=Fitness.UNFIT),
    "in a pour": Q(standing=Standing.HELD, phase__in=[Phase.SET, Phase.CAST, Phase.CALLED_OFF]),
    "on the road": Q(standing=Standing.HELD, place=None),
    "hired in": Q(standing=Standing.HELD, hired_in__isnull=False),
    "lost": Q(standing=Standing.LOST),
    "retired": Q(standing__in=[Standing.RETIRED, Standing.CUT_DOWN]),
}
"""What a reader can ask for, and which rows it means."""


def state_words(piece: Piece) -> list[str]:
    """The state in words, the gravest first; gear off the books has no other state than that."""
    if piece.standing != Standing.HELD:
        return [piece.standing]
    words = [piece.fitness] if piece.fitness != Fitness.SOUND else []
    words.append("dirty" if piece.dirty else "clean")
    if piece.phase in (Phase.SET, Phase.CAST, Phase.CALLED_OFF):
        words.append(piece.phase)
    return words if piece.fitness != Fitness.SOUND else [*words, "sound"]


def for_lists() -> QuerySet[Piece]:
    return Piece.objects.select_related("type", "place__parent", "docket")


def for_its_page() -> QuerySet[Piece]:
    return Piece.objects.select_related("type", "place__parent", "docket", "crate", "hired_in", "cut_from")


def tag_of(code: str) -> Tag | None:
    return Tag.objects.select_related("piece").filter(code=code).first()
