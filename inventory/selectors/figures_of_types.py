"""What the summaries say of how long gear lasts: by type, batch or age, and while it is used at a place."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from typing import Any

from django.db.models import Count, F

from inventory.figures.life import LIFE_ENDED
from inventory.figures.survival import Curve, Span, expected_left, kaplan_meier
from inventory.models import GearType, PieceLife, PieceRun
from inventory.selectors.figures import GROUPS, Key


def curves(by: str, **only: Any) -> dict[Key, Curve]:
    """The curve of every group, from one query; `only` narrows the pieces or runs.

    By type, batch or age over whole lives: from the uses each piece came with to those it has had, and whether its life
    ended there. By what a place leads to, over the uses made there alone: each piece is under observation from the
    uses it had before to those it had after, and what ended after the last of them ended there (delayed entry).
    Somebody else's gear is not among them: when it goes back says nothing about how long it lasts.
    """
    return {key: kaplan_meier(spans) for key, spans in spans_of(by, **only).items()}


def spans_of(by: str, **only: Any) -> dict[Key, Counter[Span]]:
    """Like spans counted, by group."""
    found: dict[Key, Counter[Span]] = defaultdict(Counter)
    for key, span, count in _of_lives(by, only) if by in GROUPS else _of_runs(by, only):
        found[key][span] += count
    return dict(found)


def _of_lives(by: str, only: dict[str, Any]) -> Iterable[tuple[Key, Span, int]]:
    rows = PieceLife.objects.filter(lot__ours=True, **only).order_by()
    counted = rows.values_list(GROUPS[by], "entry_uses", "uses", "ended").annotate(n=Count("pk"))
    return ((key, Span(entry, uses, ended in LIFE_ENDED), n) for key, entry, uses, ended, n in counted)


def _of_runs(by: str, only: dict[str, Any]) -> Iterable[tuple[Key, Span, int]]:
    rows = PieceRun.objects.filter(lot__ours=True, **only).order_by()
    counted = rows.values_list(by, F("entry"), F("exit"), F("ended")).annotate(n=Count("pk"))
    return ((key, Span(entry, leaves, ended), n) for key, entry, leaves, ended, n in counted)


def curve_of(kind: GearType) -> Curve:
    return curves("type", lot__type=kind).get(kind.pk) or kaplan_meier([])


def uses_left(kind: GearType, curve: Curve, uses: int) -> float | None:
    """Expected further uses of a piece that has had so many: as seen of its like, else by the maker's figure."""
    seen = expected_left(curve, uses)
    if seen is not None:
        return seen
    if kind.rated_uses is None:
        return None
    return float(max(0, kind.rated_uses - uses))
