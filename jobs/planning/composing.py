"""Composes whole plans near the relaxation, and makes them better by taking parts of them apart.

Runs are settled in stages, or all in one; those on the days that matter most come first. Then some of what is
settled is freed again at random and settled otherwise, as long as the relaxation of all that is free says that
more is to be gained (large neighbourhood search: P. Shaw, Constraint Programming, 1998). Random numbers have
fixed seeds: the same work gives the same plan.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from jobs.planning.dive import OVER_COST, Dive, Manner
from jobs.planning.limits import Limits
from jobs.planning.model import IntArray
from jobs.planning.program import INFINITE, BoolArray, Program
from jobs.planning.relax import Relaxation
from jobs.planning.rounding import rounded

_DUST = 1e-3
_RETURNS = 0
_RISE = 0.002
_FAR = 0.006


@dataclass(frozen=True)
class Stage:
    """Groups on days of at least this share of all weight are settled; of the room between the bound and the
    goal a plan may have lost `room` by then; `work` relaxations are spent on making it better."""

    weight: float
    room: float
    work: int


_ALL = Stage(0.0, 1.0, 300)
_WAYS = ((_ALL,), (Stage(0.3, 0.35, 100), _ALL))


class Composing:
    """Plans from the choices `keep`, near the relaxation `found`, first the one in hand if there is one. Where
    `covered`, only shortage counts. Work goes on where it was left."""

    def __init__(
        self,
        program: Program,
        found: Relaxation,
        most_short: int | None,
        limits: Limits,
        keep: BoolArray,
        step: int,
        seed: int = 0,
        *,
        covered: bool = False,
    ) -> None:
        self.program, self.found, self.step, self.covered = program, found, step, covered
        self.most_short, self.limits, self.seed, self.keep = most_short, limits, seed, keep
        self.dive = Dive(program, np.nonzero(keep)[0], most_short, limits)
        total = found.prices.sum(axis=0)
        sums = np.concatenate([[0.0], (total / max(float(total.sum()), _DUST)).cumsum()])
        self.weight = sums[program.after] - sums[program.first]
        self.best: IntArray | None = None
        self._begin()

    def _begin(self) -> None:
        self.stages = _WAYS[self.seed % len(_WAYS)]
        self.rng = np.random.default_rng(self.seed)
        self.at, self.share, self.since = -1, 0.5, 0
        self.level = np.zeros(len(self.program.runs), dtype=bool)
        self.settled = np.zeros(len(self.dive.columns))
        self.value = INFINITE

    def work(self, goal: float, most: int) -> IntArray | None:
        """Go on until a plan is worth `goal` or `most` more relaxations are spent: the best plan so far, over all
        of the program's columns, or None where there is none yet."""
        until = self.dive.solved + most
        while not self.limits.over() and not self._enough(goal):
            if self.dive.solved >= until and self.best is not None:
                break
            self._go_on(goal)
        return self.best

    def worth(self, picks: IntArray) -> float:
        """What a plan comes to in mm, shortage beyond the cap included."""
        short, cost = self.program.measure(picks)
        beyond = 0 if self.most_short is None else max(0, short - self.most_short)
        return cost + OVER_COST * beyond

    def _enough(self, goal: float) -> bool:
        if self.best is None:
            return False
        if self.covered:
            return self.program.measure(self.best)[0] <= (self.most_short or 0)
        return self.worth(self.best) <= goal

    def _go_on(self, goal: float) -> None:
        """One try to make this stage better; the next stage where it is good enough or has had its share of
        work, and after the last all anew in another way."""
        if self.at >= 0:
            stage, last = self.stages[self.at], self.at + 1 == len(self.stages)
            allowed = self.found.bound + stage.room * (goal - self.found.bound)
            far_off = self.value > (1 + _FAR) * self.found.bound
            work = stage.work // 5 if far_off else stage.work
            if self.dive.solved - self.since < work and (last or self.value > allowed):
                self._try()
                return
            if last:
                self.seed += 1
                self._begin()
        self._next_stage()

    def _next_stage(self) -> None:
        """Settle the next stage's runs, with some going back where the relaxation would rise by much."""
        self.at += 1
        before, self.level = self.level, self.weight >= self.stages[self.at].weight
        noise = self.rng.random(len(self.level)) if self.seed else None
        self.dive.keep(self.settled, before)
        near = self.value if before.any() else self.found.bound
        manner = replace(self._manner(near + _RISE * self.found.bound, _RETURNS), anyway=True)
        value = self.dive.settle(self.level, manner, noise)
        self.since = self.dive.solved
        self._take(INFINITE if value is None else value)

    def _try(self) -> None:
        """Free some of what is settled, and settle it otherwise if that can be better."""
        kept = self.level & (self.rng.random(len(self.level)) >= self.share)
        self.dive.keep(self.settled, kept)
        least = self.value - (self.step if self.at + 1 == len(self.stages) else 0.2 * self.step)
        value = self.dive.settle(self.level, self._manner(least + _DUST, 1), self.rng.random(len(self.level)))
        if value is None:
            self.share = min(0.95, self.share + 0.01)
        else:
            self.share = max(0.3, self.share - 0.05)
            self.since = self.dive.solved
            self._take(value)

    def _take(self, value: float) -> None:
        """Note what is settled; at the last stage it is a plan."""
        self.value = value
        self.settled = np.where(self.level[self.dive.group], np.rint(self.dive.values), 0.0)
        if self.at + 1 == len(self.stages):
            picks = rounded(self.program, self.dive.all_values())
            if self.best is None or self.worth(picks) < self.worth(self.best):
                self.best = picks

    def _manner(self, most: float, returns: int) -> Manner:
        return Manner(most=most, returns=returns, at_once=max(1, len(self.level) // 170))
