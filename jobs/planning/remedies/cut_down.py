"""Cut down: surplus long lengths recut to wanted ones; the fewest lengths cut, and of as many the least offcut.

Only what nobody has reserved may be cut, for good. A length of L gives parts when their lengths and the saw cuts
between them fit in it: sum(part + kerf) <= L + kerf, as for bars. A splayed end of the parent stays with one
part; each further one must be cut. Each length is cut into at most three.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import combinations_with_replacement

from jobs.planning.limits import Limits
from jobs.planning.remedies.extras import Taken
from jobs.planning.remedies.offers import Change, Offer
from jobs.planning.remedies.shortage import Shortage
from jobs.planning.request import PieceType

MOST_PARTS = 3
_A_LENGTH = 100_000


@dataclass(frozen=True, slots=True)
class Surplus:
    """So many of a type that nobody has reserved, ever; their parts can be on site from `start`."""

    code: str
    count: int
    start: date


@dataclass(frozen=True, slots=True)
class Recut:
    """So many of a type, each cut into these codes. `offcut_mm` is left of each, `splay` ends of each are to be
    cut splayed; the first part is needed on site on `day`."""

    code: str
    into: tuple[str, ...]
    count: int
    offcut_mm: int
    splay: int
    day: date


@dataclass(frozen=True)
class CutDownAnswer:
    """What to cut. `found.price` counts the lengths cut."""

    found: Taken
    lines: tuple[Recut, ...]


@dataclass(frozen=True, slots=True)
class Way:
    """One length cut into parts that can be on site from `start`; at most so many."""

    parent: PieceType
    parts: tuple[PieceType, ...]
    start: date
    most: int
    kerf_mm: int = 0

    @property
    def offcut(self) -> int:
        """What is left once the saw has taken its part, at every cut; mm."""
        left = self.parent.length_mm - sum(part.length_mm for part in self.parts)
        cuts = len(self.parts) - (left == (len(self.parts) - 1) * self.kerf_mm)
        return max(0, left - cuts * self.kerf_mm)

    @property
    def splay(self) -> int:
        return max(0, sum(part.splayed_ends for part in self.parts) - self.parent.splayed_ends)


def cut_down(shortage: Shortage, surplus: Sequence[Surplus], kerf_mm: int, limits: Limits) -> CutDownAnswer:
    """The fewest lengths to cut down with which nothing is lacking."""
    ways = ways_to_cut(shortage, surplus, kerf_mm)
    offers = offers_to_cut(shortage, ways, lambda way: _A_LENGTH + way.offcut)
    found = shortage.least_price(offers, limits, {lot.code: lot.count for lot in surplus})
    total = sum(found.taken.values())
    bound = total if found.proved else -(-found.bound // (2 * _A_LENGTH))
    counted = Taken(found.turns, found.proved, found.taken, total, bound, found.runs, found.without)
    return CutDownAnswer(counted, recuts(shortage, found, ways))


def ways_to_cut(shortage: Shortage, surplus: Sequence[Surplus], kerf_mm: int) -> list[Way]:
    """Every way to cut a surplus length into what the short sections may want."""
    pieces = shortage.forms.pieces if shortage.forms else ()
    return [way for lot in surplus for way in _ways(pieces, lot, kerf_mm)]


def offers_to_cut(shortage: Shortage, ways: Sequence[Way], price: Callable[[Way], int]) -> list[Offer]:
    """Each way as an offer, keyed `cut|n` by its place; lengths of one type share a pool named by its code."""
    runs = shortage.forms.runs if shortage.forms else ()
    first = min((run.start for run in runs), default=date.min)
    return [
        Offer(f"cut|{at}", price(way), way.most, tuple(_changes(way, first)), way.parent.code)
        for at, way in enumerate(ways)
    ]


def recuts(shortage: Shortage, found: Taken, ways: Sequence[Way]) -> tuple[Recut, ...]:
    """What of the ways was taken, soonest first."""
    lines = [
        Recut(
            way.parent.code,
            tuple(part.code for part in way.parts),
            found.taken[f"cut|{at}"],
            way.offcut,
            way.splay,
            _day(shortage, found, way),
        )
        for at, way in enumerate(ways)
        if found.taken.get(f"cut|{at}")
    ]
    return tuple(sorted(lines, key=lambda line: (line.day, line.code, line.into)))


def _ways(types: Sequence[PieceType], lot: Surplus, kerf_mm: int) -> Iterator[Way]:
    """Every way to cut one into at most three parts that leaves no room for another of them."""
    parent = next((kind for kind in types if kind.code == lot.code), None)
    if parent is None or lot.count < 1:
        return
    shorter = [k for k in types if k.section_mm == parent.section_mm and k.length_mm < parent.length_mm]
    room = parent.length_mm + kerf_mm
    for count in range(1, MOST_PARTS + 1):
        for parts in combinations_with_replacement(shorter, count):
            left = room - sum(part.length_mm + kerf_mm for part in parts)
            full = count == MOST_PARTS or all(left < kind.length_mm + kerf_mm for kind in shorter)
            if left >= 0 and full:
                yield Way(parent, parts, lot.start, lot.count, kerf_mm)


def _changes(way: Way, first: date) -> Iterator[Change]:
    """The length is gone from the first day of the job, its parts are there from when they are ready."""
    yield Change(way.parent.code, -1, min(first, way.start))
    for code, count in Counter(part.code for part in way.parts).items():
        yield Change(code, count, way.start)


def _day(shortage: Shortage, found: Taken, way: Way) -> date:
    needed = [shortage.days_needed(found, code) for code in {part.code for part in way.parts}]
    return max(way.start, min((days[0] for days in needed if days), default=way.start))
