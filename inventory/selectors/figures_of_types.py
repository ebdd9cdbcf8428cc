"""What the summaries say of how long gear of a type lasts."""

from __future__ import annotations

from collections import Counter

from django.db.models import Count, Q

from inventory.figures.life import LIFE_ENDED
from inventory.figures.survival import Curve, Span, expected_left, kaplan_meier
from inventory.models import GearType, PieceLife


def spans(which: Q) -> Counter[Span]:
    """Like spans of pieces, counted: from the uses each came with to those it had, and whether its life ended there.

    Somebody else's gear is not among them: when it goes back says nothing about how long it lasts.
    """
    rows = (
        PieceLife.objects.filter(which, piece__hired_in=None)
        .order_by()
        .values_list("entry_uses", "uses", "ended")
        .annotate(n=Count("pk"))
    )
    found: Counter[Span] = Counter()
    for entry, uses, ended, count in rows:
        found[Span(entry, uses, ended in LIFE_ENDED)] += count
    return found


def curve_of(kind: GearType) -> Curve:
    return kaplan_meier(spans(Q(piece__type=kind)))


def uses_left(kind: GearType, curve: Curve, uses: int) -> float | None:
    """Expected further uses of a piece that has had so many: as seen of its like, else by the maker's figure."""
    seen = expected_left(curve, uses)
    if seen is not None:
        return seen
    if kind.rated_uses is None:
        return None
    return float(max(0, kind.rated_uses - uses))


def curves() -> dict[int, Curve]:
    """The curve of every type that has pieces, from one query."""
    rows = (
        PieceLife.objects.filter(piece__hired_in=None)
        .order_by()
        .values_list("piece__type", "entry_uses", "uses", "ended")
        .annotate(n=Count("pk"))
    )
    found: dict[int, Counter[Span]] = {}
    for type_id, entry, uses, ended, count in rows:
        found.setdefault(type_id, Counter())[Span(entry, uses, ended in LIFE_ENDED)] += count
    return {type_id: kaplan_meier(some) for type_id, some in found.items()}
