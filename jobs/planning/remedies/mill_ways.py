"""Mill bars as offers beside others: each way to cut one bar into forms, so that runs are composed anew with them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice

from jobs.planning.remedies.extras import Taken
from jobs.planning.remedies.new_bars import BarCut, MillLength
from jobs.planning.remedies.offers import Change, Offer
from jobs.planning.remedies.shortage import Shortage
from jobs.planning.request import PieceType

# With more ways than this the program is too slow; bars are then cut into fewer forms each, which is said.
MOST_WAYS = 300


@dataclass(frozen=True)
class BarWays:
    """Ways to cut bars, each with the forms of one bar, longest first. `into` is the most forms a bar was cut into
    where there would have been more ways, None where all ways are here."""

    ways: tuple[tuple[MillLength, tuple[PieceType, ...]], ...] = ()
    into: int | None = None


def ways_from_mill(shortage: Shortage, mill: Sequence[MillLength], kerf_mm: int) -> BarWays:
    """Every way to cut a bar that leaves no room for another form, up to as many forms as keep the ways few.

    Forms of total length L fit in a bar when L and a saw cut between each two of them do.
    """
    pieces = shortage.forms.pieces if shortage.forms else ()
    found: list[tuple[MillLength, tuple[PieceType, ...]]] = []
    for into in range(1, 100):
        more = list(islice(_all_ways(pieces, mill, kerf_mm, into), MOST_WAYS + 1))
        if len(more) > MOST_WAYS:
            return BarWays(tuple(found), into - 1)
        if more == found:
            break
        found = more
    return BarWays(tuple(found))


def _all_ways(
    pieces: Sequence[PieceType], mill: Sequence[MillLength], kerf_mm: int, into: int
) -> Iterator[tuple[MillLength, tuple[PieceType, ...]]]:
    for bar in mill:
        kinds = sorted(
            (kind for kind in pieces if kind.section_mm == bar.section_mm),
            key=lambda kind: (-kind.length_mm, kind.code),
        )
        yield from ((bar, way) for way in _fillings(kinds, bar.length_mm + kerf_mm, kerf_mm, into))


def _fillings(kinds: Sequence[PieceType], room: int, kerf_mm: int, into: int) -> Iterator[tuple[PieceType, ...]]:
    """Forms in order of length that leave no room for the shortest, or are `into` in number."""
    fits = [at for at, kind in enumerate(kinds) if kind.length_mm + kerf_mm <= room] if into else []
    for at in fits:
        left = room - kinds[at].length_mm - kerf_mm
        further = list(_fillings(kinds[at:], left, kerf_mm, into - 1))
        yield from ((kinds[at], *rest) for rest in further or [()])


def offers_from_mill(shortage: Shortage, ways: BarWays) -> list[Offer]:
    """Each way as an offer, keyed `bar|n` by its place; bars of which there are only so many share a pool."""
    ample = shortage.most_lacking()
    return [
        Offer(
            f"bar|{at}",
            bar.cents,
            ample if bar.count is None else bar.count,
            tuple(Change(code, count, bar.start) for code, count in Counter(kind.code for kind in forms).items()),
            _pool(bar),
        )
        for at, (bar, forms) in enumerate(ways.ways)
    ]


def pools_of(mill: Sequence[MillLength]) -> Mapping[str, int]:
    """What each pool holds."""
    return {_pool(bar): bar.count for bar in mill if bar.count is not None}


def _pool(bar: MillLength) -> str:
    return "" if bar.count is None else f"bar|{bar.section_mm}|{bar.length_mm}"


def bars_taken(found: Taken, ways: BarWays) -> tuple[BarCut, ...]:
    """What of the ways was taken."""
    return tuple(
        BarCut(bar.section_mm, bar.length_mm, found.taken[f"bar|{at}"], forms, bar.start, bar.cents)
        for at, (bar, forms) in enumerate(ways.ways)
        if found.taken.get(f"bar|{at}")
    )
