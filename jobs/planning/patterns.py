"""Every legal choice of pieces for a run, once per choice, without the ones that another makes pointless.

A choice is a multiset of types of one section. As a row of pieces from the seat it is legal when each joint
is square to square and each end that seats is splayed: so one piece alone has at least as many splayed ends
as the run has seats; of several, none has two, at most two have one (they go outermost, splay outward), and
at least `seats` of them do. A choice from which a piece could be left out is never better than what is left
(it uses more of something on every day), so it is dropped.

All choices of a section stand in one table sorted by total length; the choices of a window are a slice of it.
Their number grows as C(types + pieces, pieces), so the table stops at `MOST_CHOICES` and says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from jobs.planning.request import Ends, PieceType

MOST_CHOICES = 200_000
_NEVER = np.iinfo(np.int64).max // 4


@dataclass(frozen=True)
class Choices:
    """Choices of pieces for one section, sorted by total length.

    `counts` is (choices, types): how many of each type. `totals` their total lengths in mm, `pieces` how
    many pieces, `splayed` the greatest number of seats the choice can serve, `complete` False where the
    table was cut off, so that nothing may be concluded from what is not in it.
    """

    types: tuple[PieceType, ...]
    counts: NDArray[np.int16]
    totals: NDArray[np.int64]
    pieces: NDArray[np.int64]
    splayed: NDArray[np.int64]
    ends: Ends
    complete: bool

    def within(self, least: int, most: int, seats: int) -> NDArray[np.int64]:
        """The rows of the choices legal for a window and a number of seats, pointless ones left out."""
        low, high = np.searchsorted(self.totals, [max(least, 1), most + 1])
        rows = np.arange(low, max(low, high))
        if self.ends == "splayed":
            rows = rows[self.splayed[rows] >= seats]
        spare = self._least_removable[seats if self.ends == "splayed" else 0]
        legal: NDArray[np.int64] = rows[self.totals[rows] - spare[rows] < least]
        return legal

    @cached_property
    def _least_removable(self) -> NDArray[np.int64]:
        """(3, choices): the shortest piece that can be left out with the rest still legal, by seats."""
        lengths = np.array([kind.length_mm for kind in self.types], dtype=np.int64)
        is_splayed = np.array([kind.splayed_ends > 0 for kind in self.types], dtype=bool)
        held = self.counts > 0
        shortest = np.where(held, lengths, _NEVER).min(axis=1, initial=_NEVER)
        square = np.where(held & ~is_splayed, lengths, _NEVER).min(axis=1, initial=_NEVER)
        several = self.pieces > 1
        any_piece = np.where(several, shortest, _NEVER)
        rows = [any_piece]
        for seats in (1, 2):
            free = np.where(self.splayed > seats, shortest, square)
            rows.append(np.where(several, free, _NEVER))
        return np.stack(rows)


def choices_of(types: Sequence[PieceType], most_pieces: int, longest: int, ends: Ends) -> Choices:
    """The table of choices of at most `most_pieces` pieces whose total is at most `longest` mm.

    `types` are all of one section.
    """
    found: list[tuple[int, ...]] = []
    complete = True
    for depth in range(1, most_pieces + 1):
        layer = list(_multisets(types, depth, longest, ends, MOST_CHOICES - len(found)))
        found.extend(layer)
        if len(found) >= MOST_CHOICES:
            complete = False
            break
        if not layer:
            break
    return _table(types, found, ends, complete)


def _multisets(
    types: Sequence[PieceType], depth: int, longest: int, ends: Ends, limit: int
) -> Iterator[tuple[int, ...]]:
    """Legal choices of exactly `depth` pieces, each as type numbers in ascending order; at most `limit`."""
    splays = [kind.splayed_ends if ends == "splayed" else 0 for kind in types]
    usable = [n for n in range(len(types)) if depth == 1 or splays[n] < 2]
    shortest = min((types[n].length_mm for n in usable), default=1)
    stack: list[tuple[tuple[int, ...], int, int]] = [((), longest, 2)]
    given = 0
    while stack and given < limit:
        chosen, room, splayed_left = stack.pop()
        if len(chosen) == depth:
            given += 1
            yield chosen
            continue
        room_after = room - shortest * (depth - len(chosen) - 1)
        for n in usable:
            if chosen and n < chosen[-1]:
                continue
            if types[n].length_mm <= room_after and splays[n] <= splayed_left:
                stack.append(((*chosen, n), room - types[n].length_mm, splayed_left - splays[n]))


def _table(types: Sequence[PieceType], found: Sequence[tuple[int, ...]], ends: Ends, complete: bool) -> Choices:
    counts = np.zeros((len(found), len(types)), dtype=np.int16)
    for row, chosen in enumerate(found):
        for n in chosen:
            counts[row, n] += 1
    lengths = np.array([kind.length_mm for kind in types], dtype=np.int64)
    splays = np.array([kind.splayed_ends for kind in types], dtype=np.int64)
    totals = counts @ lengths if len(types) else np.zeros(len(found), dtype=np.int64)
    order = np.lexsort((*(-counts.T[::-1]), counts.sum(axis=1), totals)) if len(types) else np.arange(0)
    counts = counts[order]
    pieces = counts.sum(axis=1, dtype=np.int64)
    return Choices(
        types=tuple(types),
        counts=counts,
        totals=totals[order],
        pieces=pieces,
        splayed=np.minimum((counts * splays).sum(axis=1, dtype=np.int64), 2) if len(types) else pieces,
        ends=ends,
        complete=complete,
    )


def from_the_seat(types: Sequence[PieceType], row: NDArray[np.int16], seats: int) -> list[PieceType]:
    """The pieces of a legal choice in order from the seat, longest first within what the ends leave free.

    Where the run seats, or any end is splayed, a splayed piece comes first; a second splayed one last.
    """
    chosen = [types[n] for n in range(len(types)) for _ in range(int(row[n]))]
    chosen.sort(key=lambda kind: (-kind.length_mm, kind.code))
    splayed = [kind for kind in chosen if kind.splayed_ends]
    square = [kind for kind in chosen if not kind.splayed_ends]
    if len(splayed) >= 2 and len(chosen) >= 2:
        return [splayed[0], *square, *splayed[1:]]
    return [*splayed, *square]
