"""Makes a plan better some days at a time: the runs about a day are composed anew, the others staying as they are.

Runs only touch on the days they share, so such a window is a small whole-number program. Its relaxation says
first whether anything could be gained there. The plan never gets worse.
"""

from __future__ import annotations

from dataclasses import dataclass

import highspy
import numpy as np

from jobs.planning.limits import Limits
from jobs.planning.linear import Linear, linear_of, part_of
from jobs.planning.model import IntArray
from jobs.planning.program import BoolArray, Program, quiet_highs
from jobs.planning.whole import settled, start_of

_NODES = 20


@dataclass(frozen=True)
class Windows:
    """Looks for plans whose shortage is at most `most_short`, or that are less beyond it, and that cost less;
    `keep` are the choices considered besides the plan's own, `step` what costs are a multiple of."""

    program: Program
    limits: Limits
    most_short: int | None
    over_cost: float
    keep: BoolArray
    step: int

    def worth(self, picks: IntArray) -> float:
        """What a plan comes to in mm, shortage beyond the cap included."""
        short, cost = self.program.measure(picks)
        beyond = 0 if self.most_short is None else max(0, short - self.most_short)
        return cost + self.over_cost * beyond if beyond else float(cost)

    def better(self, picks: IntArray, free: IntArray) -> IntArray:
        """The plan with the groups `free` composed anew, if that makes it better."""
        program = self.program
        mine = np.isin(program.group, free)
        columns = np.nonzero(mine & (self.keep | (picks > 0)))[0]
        scope = part_of(program, picks, free, columns, self.most_short, self.over_cost)
        linear = linear_of(program, scope)
        now = self.worth(picks)
        if not self._promising(linear, now - float(program.joint_cost[~mine] @ picks[~mine])):
            return picks
        start = start_of(program, linear, scope, picks)
        outcome = settled(linear, self.limits, nodes=_NODES, start=start, gap_mm=0.99 * self.step)
        if outcome.picks is None:
            return picks
        new = picks.copy()
        new[columns] = outcome.picks
        return new if self.worth(new) < now else picks

    def _promising(self, linear: Linear, now: float) -> bool:
        """Whether the relaxation leaves room for a plan that costs less than `now`."""
        highs = quiet_highs(self.limits)
        highs.passModel(linear.model)
        highs.run()
        if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return False
        return bool(highs.getInfo().objective_function_value <= now - self.step + 1e-3)
