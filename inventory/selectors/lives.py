"""The summaries of lives read back, as the plain values they were made from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from inventory.figures.life import Dirt, Life, Month, MonthKey, Run, Stay
from inventory.models import PieceDirty, PieceLife, PieceMonth, PieceRun, PieceStay

LIFE = (
    "entry_uses",
    "uses",
    "on_books",
    "off_books",
    "ended",
    "proceeds",
    "inspected_at",
    "uses_since_inspected",
    "dirty_since",
    "unfit_since",
    "site",
)
"""Fields of a row in the order of `Life`."""


def stored_lives(pieces: Sequence[int]) -> dict[int, Life]:
    """By piece; those never summed are not among them."""
    found = {}
    for pk, entry, uses, on_books, off_books, *rest in _rows(PieceLife, pieces, *LIFE):
        found[pk] = Life(entry, uses, _date(on_books), _date(off_books), *rest)
    for pk, place, since, until in _rows(PieceStay, found, "place", "since", "until"):
        found[pk].stays.append(Stay(place, date.fromordinal(since), _date(until)))
    for pk, *run in _rows(PieceRun, found, "place", "entry", "exit"):
        found[pk].runs.append(Run(*run))
    for pk, *dirt in _rows(PieceDirty, found, "place", "since", "until"):
        found[pk].dirt.append(Dirt(*dirt))
    for pk, month, place, *counts in _rows(PieceMonth, found, "month", "place", *Month.__slots__):
        found[pk].months[MonthKey(month, place)] = Month(*counts)
    return found


def _rows(model: Any, pieces: Iterable[int], *fields: str) -> Iterable[tuple[Any, ...]]:
    """(piece, fields ...) in the order of keeping; plain tuples, since there are many."""
    rows: Iterable[tuple[Any, ...]] = (
        model.objects.filter(piece__in=pieces).order_by("pk").values_list("piece", *fields)
    )
    return rows


def _date(ordinal: int | None) -> date | None:
    return None if ordinal is None else date.fromordinal(ordinal)
