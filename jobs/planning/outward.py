"""A whole-number plan made from the days that matter most outward, some runs in whole numbers at a time.

Each step settles the runs of some groups exactly, with those near them in fractions, so that what is settled
leaves room for the rest; days further off count by what the relaxation says a piece is worth there. Nearly all
of the cost is made on few days, so that the first step says what may be in use at most, and each later one only
has to keep within it. A step that cannot is taken again together with the steps before it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from jobs.planning.dive import OVER_COST
from jobs.planning.limits import Limits
from jobs.planning.linear import Scope, linear_of, scope_of
from jobs.planning.model import IntArray
from jobs.planning.program import BoolArray, FloatArray, Program
from jobs.planning.relax import Relaxation
from jobs.planning.rounding import rounded
from jobs.planning.whole import settled

_NEXT = 30
_HALO = 80
_MATTERS = 0.003
_NODES = 50
_GAP_MM = 40.0
_REACH_MM = 60.0
_RETURNS = 6
_TOGETHER = 2
_EARLY = 0.3
_STIR = 0.3
_SHARE = 0.5
_DUST = 1e-3


@dataclass(frozen=True)
class Way:
    """How a plan is made outward: how many groups the first step settles, what stirs the order of days that matter
    alike and the solver's own choices (0: nothing), and whether it simplifies its programs and rounds more."""

    core: int = 30
    shuffle: int = 0
    simplified: bool = True
    rounding: bool = False

    @property
    def options(self) -> Mapping[str, Any]:
        """As HiGHS is told them. None is the best on every job, so that several are tried."""
        rounding = dict.fromkeys(("mip_heuristic_run_zi_round", "mip_heuristic_run_shifting"), self.rounding)
        return {"random_seed": self.shuffle, "presolve": "choose" if self.simplified else "off", **rounding}


class Outward:
    """One such plan, worth `goal` if it can be, from the choices near the relaxation `found`."""

    def __init__(
        self, program: Program, found: Relaxation, most_short: int | None, limits: Limits, goal: float, way: Way
    ) -> None:
        self.program, self.found, self.most_short = program, found, most_short
        self.limits, self.goal, self.way = limits, goal, way
        self.near = (found.reduced <= _REACH_MM) | (program.rank(found.reduced) < 2)
        self.picks = np.zeros(program.picks, dtype=np.int64)
        self.settled = np.zeros(len(program.runs), dtype=bool)
        self.returns = _RETURNS
        total = found.prices.sum(axis=0)
        self.weight = total / max(float(total.sum()), _DUST)
        self.order, first = self._outward()
        cuts = [0, *range(first, len(self.order), _NEXT), len(self.order)]
        self.steps = [self.order[at:after] for at, after in pairwise(cuts)]

    def plan(self) -> IntArray | None:
        """Whole numbers over all of the program's columns; None where not even the first step was done."""
        for at, groups in enumerate(self.steps):
            value = self._settle(groups)
            if value is None:
                break
            if value > self.goal:
                self._again(at, value)
        return rounded(self.program, self.picks.astype(float)) if self.settled.any() else None

    def _again(self, at: int, value: float) -> None:
        """Settle a step together with those before it, one more each time, until it is worth the goal."""
        for before in range(1, min(_TOGETHER, at) + 1):
            if not self.returns or value <= self.goal:
                return
            self.returns -= 1
            groups = np.concatenate(self.steps[at - before : at + 1])
            kept = self.picks.copy()
            self.picks[np.isin(self.program.group, groups)] = 0
            self.settled[groups] = False
            new = self._settle(groups)
            if new is None or new >= value:
                self.picks = kept
                self.settled[groups] = True
            else:
                value = new

    def _outward(self) -> tuple[IntArray, int]:
        """All groups by how far they are from the core, and how many are in it."""
        program, days = self.program, np.nonzero(self._core())[0]
        before = program.first[:, None] - days[None, :]
        after = days[None, :] - (program.after[:, None] - 1)
        far = np.maximum(np.maximum(before, after), 0).min(axis=1)
        return np.argsort(far, kind="stable"), int((far == 0).sum())

    def _core(self) -> BoolArray:
        """The days that matter most, while not too many groups are active on them."""
        core, weight = np.zeros(self.program.days, dtype=bool), self.weight
        if self.way.shuffle:
            weight = weight * (1.0 + _STIR * np.random.default_rng(self.way.shuffle).random(len(weight)))
        for day in np.argsort(-weight, kind="stable"):
            wider = core.copy()
            wider[day] = True
            if core.any() and (self._active(wider).sum() > self.way.core or weight[core].sum() > 0.97):
                break
            core = wider
        return core

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

    def _about(self, groups: BoolArray) -> tuple[BoolArray, BoolArray]:
        """The groups to have in fractions beside some, and the days to watch."""
        open_ = ~self.settled & ~groups
        about = np.zeros(len(open_), dtype=bool)
        about[self.order[open_[self.order]][:_HALO]] = True
        days = self._touched(groups | about)
        if not self.settled.any():
            days |= self.weight > _MATTERS
            about = self._active(days) & open_
        return about, days

    def _settle(self, chosen: IntArray) -> float | None:
        """Settle some groups; what a plan is then worth at least, all else in fractions, or None where time ran
        out or there is none."""
        program, groups = self.program, np.zeros(len(self.program.runs), dtype=bool)
        groups[chosen] = True
        about, days = self._about(groups)
        columns = np.nonzero((groups | about)[program.group] & self.near)[0]
        far = np.where(days | ~self._touched(~self.settled), 0.0, self.found.prices)
        far[far < _DUST] = 0.0
        pick_cost = program.joint_cost + program.priced(far)
        apart = self._apart(pick_cost, ~self.settled & ~groups & ~about)
        linear = linear_of(program, self._scope(columns, days, far, pick_cost))
        mine = groups[program.group[columns]]
        outcome = settled(
            linear,
            self.limits.within(_SHARE),
            nodes=_NODES,
            gap_mm=_GAP_MM,
            whole=mine,
            target=self._target(groups) - apart,
            options=self.way.options,
        )
        if outcome.picks is None:
            return None
        self.picks[columns[mine]] = outcome.picks[mine]
        self.settled |= groups
        return outcome.value + apart

    def _scope(self, columns: IntArray, days: BoolArray, far: FloatArray, pick_cost: FloatArray) -> Scope:
        program = self.program
        used = program.usage(self.picks)
        level_cost = np.zeros(len(program.levels.kind))
        np.add.at(level_cost, program.levels.at, -far)
        scope = replace(
            scope_of(program, columns, self.most_short),
            days=np.nonzero(days)[0],
            used=used[:, days],
            floors=program.level_use(used),
            pick_cost=pick_cost[columns],
            level_cost=level_cost,
        )
        return scope if self.most_short is None else scope.softened(OVER_COST)

    def _apart(self, pick_cost: FloatArray, rest: BoolArray) -> float:
        """What the joints of settled groups come to, and at least those and the far days of the `rest`."""
        cheapest = np.minimum.reduceat(pick_cost, self.program.edges[:-1]) * self.program.runs
        return float(cheapest[rest].sum()) + float(self.program.joint_cost @ self.picks)

    def _target(self, groups: BoolArray) -> float:
        """What is good enough for now: the earlier the step, the more is left for those to come."""
        left = 1.0 - float((self.settled | groups).mean())
        return self.found.bound + (self.goal - self.found.bound) * (1.0 - left * (1.0 - _EARLY))
