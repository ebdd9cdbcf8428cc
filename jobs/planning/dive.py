"""Whole numbers from the relaxation: one run's choice is settled at a time, and all else is relaxed anew.

What is settled first is what the days that matter most leave in fractions. Of the choices a run has in
fractions the one that raises the relaxation least is taken, the most likely first. Each step changes a bound
of one column, so that the simplex method goes on from where it stood.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import highspy
import numpy as np

from jobs.planning.limits import Limits
from jobs.planning.linear import linear_of, scope_of
from jobs.planning.model import IntArray
from jobs.planning.program import INFINITE, BoolArray, FloatArray, Program, quiet_highs

OVER_COST = 200.0
_TINY = 1e-5


@dataclass(frozen=True)
class Manner:
    """How runs are settled: how many choices of a run are tried, how much the relaxation may rise without
    trying another (a share of its value), what a plan may be worth at most, how often it may go back to try
    otherwise, whether it then goes on all the same, and how many groups are settled between one relaxation and
    the next."""

    tries: int = 8
    easy: float = 2e-5
    most: float = INFINITE
    returns: int = 1
    anyway: bool = False
    at_once: int = 1


@dataclass(frozen=True)
class Step:
    """A column settled at `wanted` or more: its bounds before that, and how much the relaxation rose."""

    column: int
    least: float
    most: float
    raised: float
    wanted: float


class Dive:
    """The relaxation of some of a program's columns, of which ever more are settled. Shortage beyond
    `most_short` comes at a great cost. `solved` counts how often it was relaxed: the work done."""

    def __init__(self, program: Program, columns: IntArray, most_short: int | None, limits: Limits) -> None:
        self.program, self.columns, self.limits = program, columns, limits
        scope = scope_of(program, columns, most_short)
        if most_short is not None:
            scope = scope.softened(OVER_COST)
        self.linear = linear_of(program, scope)
        self.highs = quiet_highs()
        self.highs.setOptionValue("solver", "simplex")
        self.highs.passModel(self.linear.model)
        self.group = program.group[columns]
        self.least, self.most = np.zeros(len(columns)), np.full(len(columns), INFINITE)
        self.values = np.zeros(len(columns))
        self.steps: list[Step] = []
        self.solved = 0

    def keep(self, settled: FloatArray, groups: BoolArray) -> None:
        """Hold the groups given at `settled`, over the columns, and free all others."""
        held = groups[self.group]
        self.least, self.most = np.where(held, settled, 0.0), np.where(held, settled, INFINITE)
        self.steps = []
        self.highs.changeColsBounds(
            len(self.columns), np.arange(len(self.columns), dtype=np.int32), self.least, self.most
        )

    def settle(self, groups: BoolArray, manner: Manner, noise: FloatArray | None = None) -> float | None:
        """Settle all of `groups` in whole numbers: what the relaxation is worth then. None where that would be
        more than the manner allows, or time ran out. `noise` over the groups shuffles those that matter alike."""
        value = self._relax()
        returns = 0
        while value is not None:
            while value is not None and (value > manner.most or value >= INFINITE):
                returns += 1
                if returns > manner.returns:
                    if manner.anyway and value < INFINITE:
                        break
                    return None
                value = self._back()
            open_columns = self._open(groups)
            if value is None or not open_columns.size:
                break
            chosen = self._next(open_columns, noise, manner.at_once)
            for at in chosen[:-1]:
                self._settle_likeliest(open_columns[self.group[open_columns] == at])
            value = self._settle(open_columns[self.group[open_columns] == chosen[-1]], value, manner)
        return value

    def all_values(self) -> FloatArray:
        """Over all of the program's columns, what is settled and what the relaxation says of the rest."""
        every = np.zeros(self.program.picks)
        every[self.columns] = np.maximum(self.values, self.least)
        return every

    def _relax(self) -> float | None:
        """The value of the relaxation, infinite where there is none; None where time ran out."""
        left = self.limits.left()
        if left <= 0.0:
            return None
        if left < float("inf"):
            self.highs.setOptionValue("time_limit", self.highs.getRunTime() + left)
        self.highs.run()
        self.solved += 1
        status = self.highs.getModelStatus()
        if status == highspy.HighsModelStatus.kInfeasible:
            return INFINITE
        if status != highspy.HighsModelStatus.kOptimal:
            return None
        self.values = np.array(self.highs.getSolution().col_value)[: len(self.columns)]
        return float(self.highs.getInfo().objective_function_value)

    def _open(self, groups: BoolArray) -> IntArray:
        """The columns of `groups` in fractions."""
        return np.nonzero((np.abs(self.values - np.rint(self.values)) > _TINY) & groups[self.group])[0]

    def _next(self, open_columns: IntArray, noise: FloatArray | None, most: int) -> list[int]:
        """The groups to settle next, the last of them with care: of those on the days that matter most, the ones
        that are nearest to whole."""
        program = self.program
        duals = np.array(self.highs.getSolution().row_dual)[self.linear.usage_rows]
        sums = np.concatenate([[0.0], np.maximum(-duals, 0.0).sum(axis=0).cumsum()])
        weight = sums[program.after] - sums[program.first]
        if noise is not None:
            weight = weight * (1.0 + 0.2 * noise)
        group = self.group[open_columns]
        key = weight[group] + self.values[open_columns] % 1.0
        if most == 1:
            return [int(group[key.argmax()])]
        first: list[int] = list(dict.fromkeys(group[np.argsort(-key, kind="stable")].tolist()))
        return first[:most][::-1]

    def _settle_likeliest(self, candidates: IntArray) -> None:
        column = int(candidates[(self.values[candidates] % 1.0).argmax()])
        wanted = float(np.ceil(self.values[column]))
        self.steps.append(Step(column, self.least[column], self.most[column], 0.0, wanted))
        self._bound(column, wanted, self.most[column])

    def _settle(self, candidates: IntArray, value: float, manner: Manner) -> float | None:
        """Settle one more run of a group on the candidate that raises the relaxation least; its value, or None
        where time ran out."""
        order = np.argsort(-(self.values[candidates] % 1.0), kind="stable")
        wanted = {int(column): float(np.ceil(self.values[column])) for column in candidates}
        best, best_column = INFINITE, int(candidates[order[0]])
        for column in map(int, candidates[order][: manner.tries]):
            kept = self.least[column]
            self._bound(column, wanted[column], self.most[column])
            raised = self._relax()
            if raised is None:
                return None
            if raised - value <= manner.easy * abs(value) + _TINY:
                self.steps.append(Step(column, kept, self.most[column], raised - value, wanted[column]))
                return raised
            if raised < best:
                best, best_column = raised, column
            self._bound(column, kept, self.most[column])
        kept, most, want = self.least[best_column], self.most[best_column], wanted[best_column]
        self.steps.append(Step(best_column, kept, most, best - value, want))
        self._bound(best_column, want, most)
        return self._relax()

    def _back(self) -> float | None:
        """Go back to the step that raised the relaxation most, and take the other way there."""
        if not self.steps:
            return None
        at = max(range(len(self.steps)), key=lambda n: (self.steps[n].raised, n))
        step = self.steps[at]
        for undone in reversed(self.steps[at:]):
            self._bound(undone.column, undone.least, undone.most)
        del self.steps[at:]
        self._bound(step.column, step.least, step.wanted - 1.0)
        self.steps.append(replace(step, raised=0.0))
        return self._relax()

    def _bound(self, column: int, least: float, most: float) -> None:
        self.least[column], self.most[column] = least, most
        self.highs.changeColBounds(column, float(least), float(most))
