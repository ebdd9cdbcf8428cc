"""What the summaries say of how long gear lasts: by type, batch or age, and while it is used at a place."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from typing import Any

from inventory.figures.life import LIFE_ENDED
from inventory.figures.survival import Curve, Span, expected_left, kaplan_meier
from inventory.models import GearType, SpanCount
from inventory.selectors.figures import GROUPS, SPAN_FIELDS, Key


def curves(by: str) -> dict[Key, Curve]:
    """The curve of every group.

    By type, batch or age over whole lives: from the uses each piece came with to those it has had, and whether its life
    ended there. By what a place leads to, over the uses made there alone: each piece is under observation from the
    uses it had before to those it had after, and what ended after the last of them ended there (delayed entry).
    Somebody else's gear is not among them: when it goes back says nothing about how long it lasts.
    """
    return {key: kaplan_meier(spans) for key, spans in spans_of(by).items()}


def spans_of(by: str) -> dict[Key, Counter[Span]]:
    """Like spans counted, by group."""
    found: dict[Key, Counter[Span]] = defaultdict(Counter)
    for key, span, ended, _, n in _counted(by):
        found[key][Span(*span, ended in LIFE_ENDED)] += n
    return dict(found)


def spans_of_types() -> tuple[dict[Key, Counter[Span]], dict[Key, Counter[Span]]]:
    """Like spans counted by type, those lost apart: a loss takes a piece from service too."""
    seen: dict[Key, Counter[Span]] = defaultdict(Counter)
    lost: dict[Key, Counter[Span]] = defaultdict(Counter)
    for key, span, ended, _, n in _counted("type"):
        if ended == "lost":
            lost[key][Span(*span, True)] += n
        else:
            seen[key][Span(*span, ended in LIFE_ENDED)] += n
    return seen, lost


def fit_of_types() -> dict[Any, Counter[int]]:
    """Fit pieces of ours by type and uses so far."""
    found: dict[Any, Counter[int]] = defaultdict(Counter)
    for key, (_, uses), _, fit, n in _counted("type"):
        if fit:
            found[key][uses] += n
    return found


def _counted(by: str) -> Iterable[tuple[Key, tuple[int, int], str, bool, int]]:
    """(group, uses at entry and exit, how it ended, whether it is fit, how many)."""
    rows = SpanCount.objects.filter(by=by if by in GROUPS else "place").order_by()
    fields = (SPAN_FIELDS.get(by, by), "entry", "exit", "ended", "fit", "n")
    return ((key, (entry, leaves), *rest) for key, entry, leaves, *rest in rows.values_list(*fields))


def curve_of(kind: GearType) -> Curve:
    return kaplan_meier(_spans_of_type(kind))


def _spans_of_type(kind: GearType) -> Counter[Span]:
    found: Counter[Span] = Counter()
    rows = SpanCount.objects.filter(by="type", type=kind).order_by().values_list("entry", "exit", "ended", "n")
    for entry, leaves, ended, n in rows:
        found[Span(entry, leaves, ended in LIFE_ENDED)] += n
    return found


def uses_left(kind: GearType, curve: Curve, uses: int) -> float | None:
    """Expected further uses of a piece that has had so many: as seen of its like, else by the maker's figure."""
    seen = expected_left(curve, uses)
    if seen is not None:
        return seen
    if kind.rated_uses is None:
        return None
    return float(max(0, kind.rated_uses - uses))
