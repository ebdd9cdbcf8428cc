"""Clean or mend first: the fewest dirty or broken pieces that turn the answer, by tag, each with its day.

A dirty piece is counted from the day it would be clean in its turn, a broken one not at all. Put before
others each is ready sooner. Fewest pieces come first; of as many, those that need the fewest mended.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from jobs.planning.limits import Limits
from jobs.planning.remedies.extras import Taken, least_price
from jobs.planning.remedies.offers import Change, Offer, days_needed
from jobs.planning.request import CoverRequest

Need = Literal["clean", "mend"]


@dataclass(frozen=True, slots=True)
class Waiting:
    """A piece that is not ready. Put first it can be on site from `start`; in its turn from `until`, if ever."""

    tag: str
    code: str
    need: Need
    start: date
    until: date | None = None


@dataclass(frozen=True, slots=True)
class WantedPiece:
    """A piece to put first: it is needed on site on `day`."""

    tag: str
    code: str
    need: Need
    day: date


@dataclass(frozen=True)
class CleanFirst:
    """The pieces to put first, in the order of their days. `found.price` counts the pieces."""

    found: Taken
    pieces: tuple[WantedPiece, ...]


def clean_first(request: CoverRequest, waiting: Sequence[Waiting], limits: Limits) -> CleanFirst:
    """The fewest of the waiting pieces with which the request is covered."""
    alike: defaultdict[tuple[str, Need, date, date | None], list[Waiting]] = defaultdict(list)
    for piece in sorted(waiting, key=lambda each: each.tag):
        if piece.until is None or piece.start < piece.until:
            alike[piece.code, piece.need, piece.start, piece.until].append(piece)
    # One mend more is dearer than nothing and cheaper than one piece more.
    one = len(waiting) + 1
    offers = {
        f"{at}": (
            Offer(f"{at}", one + (need == "mend"), len(pieces), (Change(code, 1, start, until),)),
            pieces,
        )
        for at, ((code, need, start, until), pieces) in enumerate(alike.items())
    }
    found = least_price(request, [offer for offer, _ in offers.values()], limits)
    chosen = [piece for key, count in found.taken.items() for piece in offers[key][1][:count]]
    bound = len(chosen) if found.proved else -(-found.bound // (one + 1))
    counted = Taken(found.turns, found.proved, found.taken, len(chosen), bound, found.runs)
    return CleanFirst(counted, tuple(_dated(request, found, chosen)))


def _dated(request: CoverRequest, found: Taken, chosen: Sequence[Waiting]) -> list[WantedPiece]:
    """The day each is needed: the soonest days go to the pieces that are ready soonest."""
    by_code: defaultdict[str, list[Waiting]] = defaultdict(list)
    for piece in sorted(chosen, key=lambda each: (each.start, each.until or date.max, each.tag)):
        by_code[piece.code].append(piece)
    dated = []
    for code, pieces in by_code.items():
        needed = days_needed(request, found.runs, code)
        for at, piece in enumerate(pieces):
            day = max(piece.start, needed[at]) if at < len(needed) else piece.start
            dated.append(WantedPiece(piece.tag, piece.code, piece.need, day))
    return sorted(dated, key=lambda each: (each.day, each.tag))
