"""Which of many alike a load takes: the nearest first, of those by their wear, and where that leaves a choice, those
that lie together.

"fewest" takes those with the fewest uses. "alike" takes pieces that are evenly worn: those whose uses lie closest
together, with what the load has of that type already, and of several such the least used. Both keep to the order of
the yards: none is taken from a farther yard while a nearer one has one.

Pieces of one yard with the same uses are as good as each other. Of those the ones are taken that lie in the fewest
crates and places that nothing else of the load is fetched from, then so that the fewest crates are left half full.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal, TypeAlias

Order = Literal["fewest", "alike"]


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a hand walks to: a place, and there a crate; 0 for what lies loose."""

    place: int = 0
    crate: int = 0


@dataclass(frozen=True, slots=True)
class Candidate:
    """A piece that is fit and clean. `far` is 0 in the nearest yard and more the farther off it lies; `uses` its
    casts; `watch` marks one to be looked at each time, taken after sound ones."""

    id: int
    far: int
    uses: int
    watch: bool = False
    spot: Spot = Spot()


@dataclass(frozen=True, slots=True)
class Share:
    """What a load takes of one type: `sure` by the rules alone, and `count` of `tied`, as good as each other."""

    sure: tuple[Candidate, ...]
    tied: tuple[Candidate, ...] = ()
    count: int = 0


# How many were taken of the spot looked at last, and the same of those before it.
_Way: TypeAlias = "tuple[_Way, int] | None"


def share(candidates: Iterable[Candidate], count: int, order: Order, had: Sequence[int] = ()) -> Share:
    """So many, or all there are: whole yards in order, then the best of the last one. `had` are the uses of what the
    load has of the type already.

    >>> some = [Candidate(1, 0, 0), Candidate(2, 0, 9), Candidate(3, 0, 10), Candidate(4, 1, 0)]
    >>> for order in ("fewest", "alike"):
    ...     print([one.id for one in together([share(some, 2, order)], {})])
    [1, 2]
    [2, 3]
    """
    found: list[Candidate] = []
    ranked = sorted(candidates, key=lambda one: (one.far, one.watch, one.uses, one.id))
    for _, some in groupby(ranked, key=lambda one: (one.far, one.watch)):
        group, rest = list(some), count - len(found)
        if rest < len(group):
            return _of_one_yard(found, group, rest, order, [*had, *(one.uses for one in found)])
        found += group
    return Share(tuple(found))


def together(shares: Iterable[Share], held: Mapping[int, int], begun: Collection[Candidate] = ()) -> list[Candidate]:
    """The pieces of a whole load. `held` is how many pieces each crate holds, `begun` what the load has already.

    >>> here, there = Spot(1, 7), Spot(1, 8)
    >>> some = [Candidate(1, 0, 5, spot=there), Candidate(2, 0, 5, spot=here), Candidate(3, 0, 5, spot=here)]
    >>> [one.id for one in together([share(some, 2, "fewest")], {7: 2, 8: 1})]
    [2, 3]
    """
    shares = list(shares)
    found = [one for each in shares for one in each.sure]
    taken = Counter(one.spot for one in (*begun, *found))
    for each in shares:
        more = _nearest(each, held, taken)
        found += more
        taken.update(one.spot for one in more)
    return found


def _of_one_yard(
    found: Iterable[Candidate], ranked: Sequence[Candidate], count: int, order: Order, had: list[int]
) -> Share:
    """The best of one yard, which has more than are wanted; `ranked` by uses."""
    at = 0 if order == "fewest" or not count else _least_spread(ranked, count, had)
    window = ranked[at : at + count]
    last = window[-1].uses if window else -1
    sure = [one for one in window if one.uses < last]
    tied = [one for one in ranked if one.uses == last]
    return Share((*found, *sure), tuple(tied), count - len(sure))


def _least_spread(ranked: Sequence[Candidate], count: int, had: list[int]) -> int:
    """Where the pieces begin whose uses lie closest together, with those `had`."""

    def spread(at: int) -> int:
        ends = [ranked[at].uses, ranked[at + count - 1].uses, *had]
        return max(ends) - min(ends)

    return min(range(len(ranked) - count + 1), key=lambda at: (spread(at), at))


def _nearest(share: Share, held: Mapping[int, int], taken: Mapping[Spot, int]) -> list[Candidate]:
    """Of pieces as good as each other so many that new spots are fewest, then crates left half full."""
    spots: dict[Spot, list[Candidate]] = defaultdict(list)
    for one in share.tied:
        spots[one.spot].append(one)
    # By how many are taken so far, the least (new spots, crates left half full) and how many of each spot.
    best: dict[int, tuple[tuple[int, int], _Way]] = {0: ((0, 0), None)}
    for spot, some in spots.items():
        step: dict[int, tuple[tuple[int, int], _Way]] = {}
        begun, full = taken.get(spot, 0), held.get(spot.crate, 0) if spot.crate else 0
        for had, ((new, half), way) in best.items():
            for more in range(min(len(some), share.count - had) + 1):
                touched = begun + more > 0
                cost = (new + (not begun and more > 0), half + (touched and begun + more < full))
                if had + more not in step or cost < step[had + more][0]:
                    step[had + more] = (cost, (way, more))
        best = step
    found, last = list[Candidate](), best[share.count][1]
    for some in reversed(spots.values()):
        assert last is not None
        last, more = last
        found += some[:more]
    return found
