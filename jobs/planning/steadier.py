"""Of all plans with the same shortage and gear cost, the one that changes fewest pieces from level to level.

Dealing the choices of one plan out anew (`levels`) leaves out plans that make some runs of other pieces at the same
gear cost. Here every run may take any of its choices: a mixed-integer program for each section, with shortage and
gear cost held at the plan's. What a pair of sides keeps of each type is at most what either has; what changes is at
least what either has beyond what is kept, and least is what `changed` counts. Exact for jobs up to `MOST_CHOICES`
choices in all; larger ones stay as they were, and after `SECONDS` what was found by then is taken.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import highspy
import numpy as np

from jobs.planning.cover import sections_of
from jobs.planning.levels import Dealt, Slot, changed
from jobs.planning.model import IntArray, Section
from jobs.planning.request import CoverRequest

MOST_CHOICES = 4_500
SECONDS = 4.0


def steadier(request: CoverRequest, slots: Sequence[Slot], dealt: Mapping[str, tuple[str, ...]]) -> Dealt:
    """The pieces of each run, by its key, so that the fewest change; those of `dealt` where none do better.

    Pieces stand in no order. Runs that are not in `dealt` are left out.
    """
    found = dict(dealt)
    below = {slot.key: slot.below for slot in slots if slot.below in dealt and slot.key in dealt}
    for section in sections_of(request):
        keys = {number: str(request.runs[number].side) for group in section.groups for number in group.runs}
        pairs = [(low, high) for high, low in below.items() if low is not None and high in set(keys.values())]
        size = sum(len(group.choices) * len(group.runs) for group in section.groups)
        now = sum(changed(found[low], found[high]) for low, high in pairs)
        if now and size <= MOST_CHOICES and set(keys.values()) <= dealt.keys():
            found |= _Recomposed(section, keys, pairs, found).solved(now)
    return found


class _Recomposed:
    """The program of one section."""

    def __init__(
        self,
        section: Section,
        keys: Mapping[int, str],
        pairs: Sequence[tuple[str, str]],
        dealt: Mapping[str, Sequence[str]],
    ) -> None:
        self.section, self.pairs = section, pairs
        self.program = highspy.Highs()
        for option, value in (("output_flag", False), ("threads", 1), ("random_seed", 0), ("time_limit", SECONDS)):
            self.program.setOptionValue(option, value)
        self.takes: dict[str, list[tuple[int, Any]]] = {}
        for group in section.groups:
            for number in group.runs:
                columns = [(int(row), self.program.addBinary()) for row in group.choices]
                self.takes[keys[number]] = columns
                self.program.addConstr(sum(column for _, column in columns) == 1)
        self._gear(keys, dealt)

    def _gear(self, keys: Mapping[int, str], dealt: Mapping[str, Sequence[str]]) -> None:
        """Shortage and gear cost stay what they are."""
        section, program = self.section, self.program
        usage, joints = self._usage(keys, dealt)
        most, lacks = usage.max(axis=1, initial=0), section.lacks(usage)
        greatest = [program.addIntegral(lb=0) for _ in section.types]
        lacking = [program.addIntegral(lb=0) for _ in section.types]
        for at in range(len(section.days)):
            there = [keys[n] for g in section.groups if g.first <= at <= g.last for n in g.runs]
            for n in range(len(section.types)):
                used = [self._count(key, n) for key in there]
                if any(terms is not None for terms in used):
                    total = sum(terms for terms in used if terms is not None)
                    program.addConstr(total - greatest[n] <= 0)
                    program.addConstr(total - lacking[n] <= int(section.on_hand[n, at]))
        all_joints = sum(
            int(section.choices.pieces[row] - 1) * column for taken in self.takes.values() for row, column in taken
        )
        price = sum(int(section.price[n]) * greatest[n] for n in range(len(greatest)))
        program.addConstr(
            price + section.joint_price * all_joints <= int(section.price @ most) + section.joint_price * joints
        )
        short = sum(int(section.lengths[n]) * lacking[n] for n in range(len(lacking)))
        program.addConstr(short <= int(section.lengths @ lacks))

    def _usage(self, keys: Mapping[int, str], dealt: Mapping[str, Sequence[str]]) -> tuple[IntArray, int]:
        """(types, days) in use as dealt, and how many joints."""
        section, joints = self.section, 0
        place = {kind.code: n for n, kind in enumerate(section.types)}
        usage = np.zeros((len(section.types), len(section.days)), dtype=np.int64)
        for group in section.groups:
            for number in group.runs:
                joints += len(dealt[keys[number]]) - 1
                for code, count in Counter(dealt[keys[number]]).items():
                    usage[place[code], group.first : group.last + 1] += count
        return usage, joints

    def _count(self, key: str, kind: int) -> Any | None:
        """How many of a type a run takes; None where none of its choices has any."""
        counts = self.section.choices.counts
        terms = [int(counts[row, kind]) * column for row, column in self.takes[key] if counts[row, kind]]
        return sum(terms) if terms else None

    def _all(self, key: str) -> Any:
        return sum(int(self.section.choices.pieces[row]) * column for row, column in self.takes[key])

    def solved(self, now: int) -> Dealt:
        """What the program makes of the section; nothing where it finds no plan that changes fewer than `now`."""
        program, moves = self.program, []
        for low, high in self.pairs:
            kept = []
            for n in range(len(self.section.types)):
                ours, theirs = self._count(low, n), self._count(high, n)
                if ours is not None and theirs is not None:
                    both = program.addVariable(lb=0)
                    program.addConstr(both - ours <= 0)
                    program.addConstr(both - theirs <= 0)
                    kept.append(both)
            move = program.addVariable(lb=0)
            for key in (low, high):
                program.addConstr(move + sum(kept) - self._all(key) >= 0)
            moves.append(move)
        total = sum(moves)
        program.addConstr(total <= now - 1)
        program.minimize(total)
        if program.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return {}
        return {key: self._codes(taken) for key, taken in self.takes.items()}

    def _codes(self, taken: Sequence[tuple[int, Any]]) -> tuple[str, ...]:
        row = next(row for row, column in taken if self.program.val(column) > 0.5)
        counts = self.section.choices.counts[row]
        return tuple(kind.code for n, kind in enumerate(self.section.types) for _ in range(int(counts[n])))
