"""A cover check of one section as arrays: like runs together, only the days that matter.

Sections share nothing, so each is solved alone. Runs that are active on the same watched days and have the
same choices are one group with a count. Only days are watched on which the greatest use or the greatest lack
of some type can fall: the maximal overlaps, and more where stock steps.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from jobs.planning.overlaps import Periods
from jobs.planning.patterns import Choices, choices_of
from jobs.planning.request import PieceType, Rules, Run

IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Group:
    """Runs that are alike: watched days `first` to `last` (both included), rows of the table of choices, and
    the least total length in mm that any of them allows."""

    first: int
    last: int
    seats: int
    choices: IntArray
    runs: tuple[int, ...]
    least: int


@dataclass(frozen=True)
class Section:
    """One section's part of a cover check. `days` are the watched days, in order: those on which some type's
    greatest use or greatest lack can fall.

    `on_hand` is (types, days). `price` is the gear cost of one piece of each type.
    """

    types: tuple[PieceType, ...]
    choices: Choices
    groups: tuple[Group, ...]
    days: tuple[date, ...]
    on_hand: IntArray
    price: IntArray
    joint_price: int
    impossible: tuple[int, ...] = field(default=())

    @cached_property
    def lengths(self) -> IntArray:
        return np.array([kind.length_mm for kind in self.types], dtype=np.int64)

    @property
    def complete(self) -> bool:
        return self.choices.complete

    def lacks(self, usage: IntArray) -> IntArray:
        """The greatest daily lack of each type, for what is in use as (types, days)."""
        worst: IntArray = (usage - self.on_hand).max(axis=1, initial=0)
        return worst


def section_of(types: Sequence[PieceType], runs: Sequence[tuple[int, Run]], rules: Rules) -> Section:
    """The section whose pieces are `types` and whose runs, with their numbers in the request, are `runs`.

    Runs with no legal choice are set aside in `impossible`.
    """
    windows = {number: run.window(rules) for number, run in runs}
    longest = max((most for _, most in windows.values()), default=0)
    choices = choices_of(types, rules.max_pieces_per_run, longest, rules.ends)
    legal = _legal(choices, runs, windows)
    able = [(number, run) for number, run in runs if len(legal[number])]
    most = len(able) * int(choices.pieces.max(initial=0))
    days, on_hand = _watched(types, [(run.start, run.until) for _, run in able], most)
    return Section(
        types=tuple(types),
        choices=choices,
        groups=_grouped(able, legal, windows, days),
        days=days,
        on_hand=on_hand,
        price=np.array([kind.length_mm + rules.piece_handling_mm for kind in types], dtype=np.int64),
        joint_price=rules.joint_handling_mm,
        impossible=tuple(number for number, _ in runs if not len(legal[number])),
    )


def _watched(
    types: Sequence[PieceType], spans: Sequence[tuple[date, date]], most: int
) -> tuple[tuple[date, ...], IntArray]:
    """The maximal overlaps and the days on which some type's stock may be the first to fall short; (types, days)
    on hand, of which no more than `most` can be in use."""
    periods = Periods.of(spans, {day for kind in types for day, _ in kind.on_hand})
    on_hand = [[min(kind.count_on(day), most) for day in periods.days] for kind in types]
    watched = sorted(set(periods.maximal()).union(*(periods.needed(counts) for counts in on_hand)))
    counts = np.array(on_hand, dtype=np.int64).reshape(len(types), len(periods.days))
    return tuple(periods.days[k] for k in watched), counts[:, watched]


def _legal(
    choices: Choices, runs: Sequence[tuple[int, Run]], windows: dict[int, tuple[int, int]]
) -> dict[int, IntArray]:
    known: dict[tuple[int, int, int], IntArray] = {}
    legal = {}
    for number, run in runs:
        key = (*windows[number], run.seats)
        if key not in known:
            known[key] = choices.within(*key)
        legal[number] = known[key]
    return legal


def _grouped(
    able: Sequence[tuple[int, Run]],
    legal: dict[int, IntArray],
    windows: dict[int, tuple[int, int]],
    days: Sequence[date],
) -> tuple[Group, ...]:
    ordinals = np.array([day.toordinal() for day in days])
    alike: defaultdict[tuple[int, int, int, bytes], list[int]] = defaultdict(list)
    for number, run in able:
        first, after = np.searchsorted(ordinals, [run.start.toordinal(), run.until.toordinal()])
        alike[int(first), int(after) - 1, run.seats, legal[number].tobytes()].append(number)
    return tuple(
        Group(
            first=first,
            last=last,
            seats=seats,
            choices=legal[numbers[0]],
            runs=tuple(numbers),
            least=min(windows[number][0] for number in numbers),
        )
        for (first, last, seats, _), numbers in sorted(alike.items())
    )
