"""A whole-number plan made from the days that matter most outward, some runs in whole numbers at a time.

Each step settles the runs of some groups exactly, with those near them in fractions, so that what is settled
leaves room for the rest; days further off count by what the relaxation says a piece is worth there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from jobs.planning.dive import OVER_COST
from jobs.planning.limits import Limits
from jobs.planning.linear import linear_of, scope_of
from jobs.planning.model import IntArray
from jobs.planning.program import BoolArray, Program
from jobs.planning.relax import Relaxation
from jobs.planning.whole import settled

_CORE = 60
_NEXT = 30
_HALO = 80
_MATTERS = 0.003
_NODES = (50, 20)
_STEP_MM = 50.0
_DUST = 1e-3


class Outward:
    """One such plan, from the choices `near` the relaxation."""

    def __init__(
        self, program: Program, found: Relaxation, most_short: int | None, limits: Limits, near: BoolArray
    ) -> None:
        self.program, self.found, self.most_short, self.limits = program, found, most_short, limits
        self.near = near
        self.picks = np.zeros(program.picks, dtype=np.int64)
        self.settled = np.zeros(len(program.runs), dtype=bool)
        total = found.prices.sum(axis=0)
        self.weight = total / max(float(total.sum()), _DUST)

    def plan(self) -> IntArray | None:
        """Whole numbers over all of the program's columns; None where time ran out or a step had no plan."""
        core = self._core()
        groups = self._active(core)
        about = self._active(self._touched(groups) | (self.weight > _MATTERS))
        if not self._settle(groups, about, self._touched(groups) | (self.weight > _MATTERS), _NODES[0]):
            return None
        for groups, about in self._outward(core):
            if not self._settle(groups, about, self._touched(groups | about), _NODES[1]):
                return None
        return self.picks

    def _core(self) -> BoolArray:
        """The days that matter most, while not too many groups are active on them."""
        core = np.zeros(self.program.days, dtype=bool)
        for day in np.argsort(-self.weight, kind="stable"):
            wider = core.copy()
            wider[day] = True
            if core.any() and (self._active(wider).sum() > _CORE or self.weight[core].sum() > 0.97):
                break
            core = wider
        return core

    def _outward(self, core: BoolArray) -> Iterator[tuple[BoolArray, BoolArray]]:
        """Groups by how far they are from the core: those to settle next, and those about them."""
        program, days = self.program, np.nonzero(core)[0]
        before = program.first[:, None] - days[None, :]
        after = days[None, :] - (program.after[:, None] - 1)
        order = np.argsort(np.maximum(np.maximum(before, after), 0).min(axis=1), kind="stable")
        order = order[~self.settled[order]]
        for at in range(0, len(order), _NEXT):
            yield self._set_of(order[at : at + _NEXT]), self._set_of(order[at + _NEXT : at + _NEXT + _HALO])

    def _set_of(self, groups: IntArray) -> BoolArray:
        members = np.zeros(len(self.program.runs), dtype=bool)
        members[groups] = True
        return members

    def _active(self, days: BoolArray) -> BoolArray:
        sums = np.concatenate([[0], days.cumsum()])
        active: BoolArray = sums[self.program.after] > sums[self.program.first]
        return active

    def _touched(self, groups: BoolArray) -> BoolArray:
        steps = np.zeros(self.program.days + 1, dtype=np.int64)
        np.add.at(steps, self.program.first[groups], 1)
        np.add.at(steps, self.program.after[groups], -1)
        touched: BoolArray = steps.cumsum()[:-1] > 0
        return touched

    def _settle(self, groups: BoolArray, about: BoolArray, days: BoolArray, nodes: int) -> bool:
        program = self.program
        mine, others = groups[program.group], (about & ~groups & ~self.settled)[program.group]
        columns = np.nonzero((mine | others) & self.near)[0]
        far = np.where(days | ~self._touched(~self.settled), 0.0, self.found.prices)
        far[far < _DUST] = 0.0
        level_cost = np.zeros(len(program.levels.kind))
        np.add.at(level_cost, program.levels.at, -far)
        used = program.usage(self.picks)
        scope = replace(
            scope_of(program, columns, self.most_short),
            days=np.nonzero(days)[0],
            used=used[:, days],
            floors=program.level_use(used),
            pick_cost=(program.joint_cost + program.priced(far))[columns],
            level_cost=level_cost,
        )
        if self.most_short is not None:
            scope = scope.softened(OVER_COST)
        outcome = settled(linear_of(program, scope), self.limits, nodes=nodes, gap_mm=_STEP_MM, whole=mine[columns])
        if outcome.picks is None:
            return False
        self.picks[columns[mine[columns]]] = outcome.picks[mine[columns]]
        self.settled |= groups
        return True
