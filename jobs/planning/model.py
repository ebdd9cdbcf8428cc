"""A cover check of one section as arrays: like runs together, only the days that matter.

Sections share nothing, so each is solved alone. Runs that are active on the same watched days and have the
same choices are one group with a count. For each type two sets of days are watched: the maximal overlaps,
on which its greatest use falls, and the days on which its stock may fall short.
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
    """Runs that are alike: watched days `first` to `last` (both included), rows of the table of choices."""

    first: int
    last: int
    seats: int
    choices: IntArray
    runs: tuple[int, ...]


@dataclass(frozen=True)
class Section:
    """One section's part of a cover check. `days` are the watched days, in order.

    `peak_days` are places in `days` where greatest use can fall; `stock_days[t]` those where type t can
    fall short, with `stock[t]` on hand there. `price` is the gear cost of one piece of each type.
    """

    types: tuple[PieceType, ...]
    choices: Choices
    groups: tuple[Group, ...]
    days: tuple[date, ...]
    peak_days: IntArray
    stock_days: tuple[IntArray, ...]
    stock: tuple[IntArray, ...]
    price: IntArray
    joint_price: int
    impossible: tuple[int, ...] = field(default=())

    @cached_property
    def lengths(self) -> IntArray:
        return np.array([kind.length_mm for kind in self.types], dtype=np.int64)

    @property
    def complete(self) -> bool:
        return self.choices.complete

    def usage(self, chosen: Sequence[Sequence[tuple[int, int]]]) -> IntArray:
        """(types, days): how many are in use, for each group's [(choice, times)]."""
        steps = np.zeros((len(self.types), len(self.days) + 1), dtype=np.int64)
        for group, picks in zip(self.groups, chosen, strict=True):
            for row, times in picks:
                used = self.choices.counts[row].astype(np.int64) * times
                steps[:, group.first] += used
                steps[:, group.last + 1] -= used
        return steps.cumsum(axis=1)[:, :-1]

    def peaks(self, usage: IntArray) -> IntArray:
        """The greatest use of each type."""
        greatest: IntArray = usage[:, self.peak_days].max(axis=1, initial=0)
        return greatest

    def lacks(self, usage: IntArray) -> IntArray:
        """The greatest daily lack of each type."""
        worst = [
            (usage[n, days] - stock).max(initial=0)
            for n, (days, stock) in enumerate(zip(self.stock_days, self.stock, strict=True))
        ]
        return np.array(worst, dtype=np.int64)


def section_of(types: Sequence[PieceType], runs: Sequence[tuple[int, Run]], rules: Rules) -> Section:
    """The section whose pieces are `types` and whose runs, with their numbers in the request, are `runs`.

    Runs with no legal choice are set aside in `impossible`.
    """
    windows = {number: run.window(rules) for number, run in runs}
    longest = max((most for _, most in windows.values()), default=0)
    choices = choices_of(types, rules.max_pieces_per_run, longest, rules.ends)
    legal = _legal(choices, runs, windows)
    able = [(number, run) for number, run in runs if len(legal[number])]
    steps = {day for kind in types for day, _ in kind.on_hand}
    periods = Periods.of([(run.start, run.until) for _, run in able], steps)
    on_hand = [[kind.count_on(day) for day in periods.days] for kind in types]
    peak = periods.maximal()
    needed = [periods.needed(counts) for counts in on_hand]
    watched = sorted(set(peak).union(*needed))
    place = {k: n for n, k in enumerate(watched)}
    days = tuple(periods.days[k] for k in watched)
    return Section(
        types=tuple(types),
        choices=choices,
        groups=_grouped(able, legal, days),
        days=days,
        peak_days=np.array([place[k] for k in peak], dtype=np.int64),
        stock_days=tuple(np.array([place[k] for k in ks], dtype=np.int64) for ks in needed),
        stock=tuple(
            np.array([counts[k] for k in ks], dtype=np.int64) for counts, ks in zip(on_hand, needed, strict=True)
        ),
        price=np.array([kind.length_mm + rules.piece_handling_mm for kind in types], dtype=np.int64),
        joint_price=rules.joint_handling_mm,
        impossible=tuple(number for number, _ in runs if not len(legal[number])),
    )


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


def _grouped(able: Sequence[tuple[int, Run]], legal: dict[int, IntArray], days: Sequence[date]) -> tuple[Group, ...]:
    ordinals = np.array([day.toordinal() for day in days])
    alike: defaultdict[tuple[int, int, int, bytes], list[int]] = defaultdict(list)
    for number, run in able:
        first, after = np.searchsorted(ordinals, [run.start.toordinal(), run.until.toordinal()])
        alike[int(first), int(after) - 1, run.seats, legal[number].tobytes()].append(number)
    return tuple(
        Group(first, last, seats, legal[numbers[0]], tuple(numbers))
        for (first, last, seats, _), numbers in sorted(alike.items())
    )
