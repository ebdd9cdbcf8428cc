"""Which of many alike a load takes: the nearest first, and of those by their wear.

"fewest" takes those with the fewest uses. "alike" takes pieces that are evenly worn: of all so many, those whose
uses lie closest together, and of several such the least used. Both keep to the order of the yards: none is taken
from a farther yard while a nearer one has one.

>>> some = [Candidate(1, 0, 0), Candidate(2, 0, 9), Candidate(3, 0, 10), Candidate(4, 1, 0)]
>>> [one.id for one in chosen(some, 2, "fewest")], [one.id for one in chosen(some, 2, "alike")]
([1, 2], [2, 3])
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

Order = Literal["fewest", "alike"]


@dataclass(frozen=True, slots=True)
class Candidate:
    """A piece that is fit and clean. `far` is 0 in the nearest yard and more the farther off it lies; `uses` its
    casts; `watch` marks one to be looked at each time, taken after sound ones."""

    id: int
    far: int
    uses: int
    watch: bool = False


def chosen(candidates: Iterable[Candidate], count: int, order: Order) -> list[Candidate]:
    """So many, or all there are: whole yards in order, then the best of the last one."""
    found: list[Candidate] = []
    ranked = sorted(candidates, key=lambda one: (one.far, one.watch, one.uses, one.id))
    for _, some in groupby(ranked, key=lambda one: (one.far, one.watch)):
        rest = count - len(found)
        found += _of_one_yard(list(some), rest, order) if rest > 0 else []
    return found


def _of_one_yard(ranked: Sequence[Candidate], count: int, order: Order) -> list[Candidate]:
    if order == "fewest" or count >= len(ranked):
        return list(ranked[:count])
    starts = range(len(ranked) - count + 1)
    best = min(starts, key=lambda at: (ranked[at + count - 1].uses - ranked[at].uses, at))
    return list(ranked[best : best + count])
