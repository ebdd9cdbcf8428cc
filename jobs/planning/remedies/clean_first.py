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
from jobs.planning.remedies.extras import Taken
from jobs.planning.remedies.offers import Change, Offer
from jobs.planning.remedies.shortage import Shortage

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


@dataclass(frozen=True)
class Alike:
    """Waiting pieces of one type that need the same and are ready on the same days."""

    key: str
    pieces: tuple[Waiting, ...]

    @property
    def need(self) -> Need:
        return self.pieces[0].need

    def offer(self, price: int) -> Offer:
        """Any number of them put first, each at that price."""
        one = self.pieces[0]
        return Offer(self.key, price, len(self.pieces), (Change(one.code, 1, one.start, one.until),))


def clean_first(shortage: Shortage, waiting: Sequence[Waiting], limits: Limits) -> CleanFirst:
    """The fewest of the waiting pieces with which nothing is lacking."""
    groups = alike(waiting)
    # One mend more is dearer than nothing and cheaper than one piece more.
    one = len(waiting) + 1
    found = shortage.least_price([group.offer(one + (group.need == "mend")) for group in groups], limits)
    chosen = pieces_taken(groups, found)
    bound = len(chosen) if found.proved else -(-found.bound // (one + 1))
    counted = Taken(found.turns, found.proved, found.taken, len(chosen), bound, found.runs, found.without)
    return CleanFirst(counted, tuple(dated(shortage, found, chosen)))


def alike(waiting: Sequence[Waiting]) -> list[Alike]:
    """Those that are sooner ready when they go first, in groups; by tag within each."""
    groups: defaultdict[tuple[str, Need, date, date | None], list[Waiting]] = defaultdict(list)
    for piece in sorted(waiting, key=lambda each: each.tag):
        if piece.until is None or piece.start < piece.until:
            groups[piece.code, piece.need, piece.start, piece.until].append(piece)
    return [Alike(f"fit|{at}", tuple(pieces)) for at, pieces in enumerate(groups.values())]


def pieces_taken(groups: Sequence[Alike], found: Taken) -> list[Waiting]:
    """The pieces behind what was taken of each group."""
    return [piece for group in groups for piece in group.pieces[: found.taken.get(group.key, 0)]]


def dated(shortage: Shortage, found: Taken, chosen: Sequence[Waiting]) -> list[WantedPiece]:
    """The day each is needed: the soonest days go to the pieces that are ready soonest."""
    by_code: defaultdict[str, list[Waiting]] = defaultdict(list)
    for piece in sorted(chosen, key=lambda each: (each.start, each.until or date.max, each.tag)):
        by_code[piece.code].append(piece)
    wanted = []
    for code, pieces in by_code.items():
        needed = shortage.days_needed(found, code)
        for at, piece in enumerate(pieces):
            day = max(piece.start, needed[at]) if at < len(needed) else piece.start
            wanted.append(WantedPiece(piece.tag, piece.code, piece.need, day))
    return sorted(wanted, key=lambda each: (each.day, each.tag))
