"""What the demo's yard sends to a job, picked plainly from what is clean and sound on the day."""

from __future__ import annotations

import itertools
from collections import defaultdict

from django.db.models import QuerySet

from inventory.lifecycle.kinds import Fitness
from inventory.models import GearType, Piece, Place
from jobs.services.demo.jobs import Plot

OVERRUN = 900
Shelf = dict[int, list[Piece]]


def gear_for(plot: Plot, yard: Place) -> list[Piece]:
    """Forms for every side of the first level, with brackets and clamps; loose, clean, sound, from this yard."""
    sides = [side for width, height in plot.panels for side in (width, height, width, height)]
    shelf = _shelf(plot.section, yard)
    forms = [piece for side in sorted(sides, reverse=True) for piece in _compose(side, shelf)]
    brackets = sum(max(2, 1 + -(-(side - 600) // 1200)) for side in sides)
    loose = [("FB-1", brackets), ("CC-1", 4 * len(plot.panels)), ("SP-1", 2), ("TL-1", 1)]
    if len(plot.casts) > 1:
        loose.append(("SB-1", brackets))
    return forms + [piece for code, number in loose for piece in _some(code, number, yard)]


def crates_for(yard: Place, number: int) -> list[Piece]:
    return _some("CR-1", number, yard)


def _ready_rows(yard: Place) -> QuerySet[Piece]:
    rows = Piece.objects.held().within(yard).filter(crate=None, dirty=False, fitness=Fitness.SOUND)
    return rows.select_related("type").order_by("pk")


def _some(code: str, number: int, yard: Place) -> list[Piece]:
    return list(_ready_rows(yard).filter(type__code=code)[:number])


def _shelf(section: int, yard: Place) -> Shelf:
    """Forms with one splayed end, by length; the longest used first within a length."""
    shelf: Shelf = defaultdict(list)
    kind = GearType.Kind.EDGE_FORM
    for piece in _ready_rows(yard).filter(type__kind=kind, type__section_mm=section, type__splayed_ends=1):
        shelf[piece.type.length_mm or 0].append(piece)
    return shelf


def _compose(side: int, shelf: Shelf) -> list[Piece]:
    """One length that fits the side and its overrun, else two that do, joined square to square."""
    lengths = sorted(length for length, pieces in shelf.items() if pieces)
    for length in lengths:
        if side <= length <= side + OVERRUN:
            return [shelf[length].pop()]
    pairs = itertools.combinations_with_replacement(lengths, 2)
    for first, second in sorted(pairs, key=sum):
        enough = len(shelf[first]) > (first == second)
        if enough and side <= first + second <= side + OVERRUN:
            return [shelf[first].pop(), shelf[second].pop()]
    return []
