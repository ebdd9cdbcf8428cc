"""Tags dealt to the sides of pours that share them, for the sheets they are set out from.

Pieces of one type are alike, so any may go anywhere; but no tag stands in two pours on one day, and one that stood in
the side below goes up to the side above it where the type stays. Pours take theirs in order of the day they are set;
gear that stands in a pour is free for others from that pour's last day on.

>>> day = date(2027, 3, 1)
>>> low = PourSides("P1", day, date(2027, 3, 4), {"A1/1": ("X", "Y"), "A1/2": ("X",)})
>>> high = PourSides("P2", date(2027, 3, 4), date(2027, 3, 8), {"A2/1": ("X",)})
>>> beside = PourSides("P3", day, date(2027, 3, 4), {"B1/1": ("X",)})
>>> free = [Tag("X", "T1", day), Tag("X", "T2", day)]
>>> found = deal([low, high, beside], free, {"A2/1": "A1/1"})
>>> found["A1/1"], found["A1/2"], found["A2/1"], found["B1/1"]
(('T1', ''), ('T2',), ('T1',), ('',))
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from heapq import heappop, heappush

Dealt = dict[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Tag:
    """A piece by its type's code and its label, free to be set from `free` on."""

    code: str
    label: str
    free: date


@dataclass(frozen=True, slots=True)
class PourSides:
    """A pour that holds its gear on [start, until), with the type codes of each of its runs from the seat, by key.

    `own` are the pieces that stand in it, (code, label): where there are any it is dealt those and no others.
    """

    name: str
    start: date
    until: date
    codes: Mapping[str, Sequence[str]]
    own: Sequence[tuple[str, str]] = ()


def deal(pours: Iterable[PourSides], free: Iterable[Tag], below: Mapping[str, str]) -> Dealt:
    """A label for each piece of each run, empty where none is left; `below` is the run on the side under a run.

    Of the free ones the one that is free first is taken, of several such the first given.
    """
    pool, found = _Pool(free), Dealt()
    for pour in sorted(pours, key=lambda one: (one.start, one.name)):
        hands = _Pool(Tag(code, label, pour.start) for code, label in pour.own) if pour.own else pool
        mine = _of_pour(pour, hands, found, below)
        found |= mine
        own = pour.own or [
            (code, label) for key, labels in mine.items() for code, label in zip(pour.codes[key], labels, strict=True)
        ]
        for code, label in own:
            if label:
                pool.give(Tag(code, label, pour.until))
    return found


def _of_pour(pour: PourSides, hands: _Pool, found: Dealt, below: Mapping[str, str]) -> Dealt:
    """First every tag that goes up with its side, so that no other side takes it; then the rest."""
    up = {
        key: [hands.take_one(code, found.get(below.get(key, ""), ()), pour.start) for code in codes]
        for key, codes in pour.codes.items()
    }
    return {
        key: tuple(had or hands.take(code, pour.start) for code, had in zip(codes, up[key], strict=True))
        for key, codes in pour.codes.items()
    }


class _Pool:
    """Tags that can be had, by type the one that is free first on top."""

    def __init__(self, tags: Iterable[Tag]) -> None:
        self._rank: dict[str, int] = {}
        self._there: dict[str, Tag] = {}
        self._heaps: dict[str, list[tuple[date, int, str]]] = defaultdict(list)
        for tag in tags:
            self.give(tag)

    def give(self, tag: Tag) -> None:
        rank = self._rank.setdefault(tag.label, len(self._rank))
        self._there[tag.label] = tag
        heappush(self._heaps[tag.code], (tag.free, rank, tag.label))

    def take(self, code: str, day: date) -> str:
        """The tag of a type that is free first, if it is free by then; else empty."""
        heap = self._heaps[code]
        while heap and heap[0][0] <= day:
            free, _, label = heappop(heap)
            tag = self._there.get(label)
            if tag is not None and tag.free == free:
                del self._there[label]
                return label
        return ""

    def take_one(self, code: str, labels: Sequence[str], day: date) -> str:
        """The first of these that is of the type and free by then; else empty."""
        for label in labels:
            tag = self._there.get(label)
            if tag is not None and tag.code == code and tag.free <= day:
                del self._there[label]
                return label
        return ""
