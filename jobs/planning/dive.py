"""A whole-number plan from the relaxation: one run's choice is settled at a time, and all else is relaxed anew.

What is settled first is what the days that matter most leave in fractions. Of the choices a run has in
fractions the one that raises the relaxation least is taken, the most likely first. Each step changes a bound
of one column, so that the simplex method goes on from where it stood.
"""

from __future__ import annotations

from dataclasses import dataclass

import highspy
import numpy as np

from jobs.planning.limits import Limits
from jobs.planning.linear import linear_of, scope_of
from jobs.planning.model import IntArray
from jobs.planning.program import INFINITE, FloatArray, Program, quiet_highs
from jobs.planning.rounding import rounded

OVER_COST = 20.0
_TINY = 1e-5


@dataclass(frozen=True)
class Manner:
    """How a dive goes: how many choices of a run it tries, how much the relaxation may rise without trying
    another (a share of its value), and what shuffles runs that matter alike (0: nothing)."""

    tries: int = 8
    easy: float = 2e-5
    shuffle: int = 0


class Dive:
    """One dive, over some of a program's columns, with shortage beyond `most_short` at a great cost."""

    def __init__(
        self, program: Program, columns: IntArray, most_short: int | None, limits: Limits, *, short: bool = False
    ) -> None:
        self.program, self.columns, self.limits = program, columns, limits
        scope = scope_of(program, columns, None if short else most_short, short=short)
        if most_short is not None and not short:
            scope = scope.softened(OVER_COST)
        self.linear = linear_of(program, scope)
        self.highs = quiet_highs()
        self.highs.setOptionValue("solver", "simplex")
        self.highs.passModel(self.linear.model)
        self.group = program.group[columns]
        self.least = np.zeros(len(columns))
        self.values, self.weights = np.zeros(len(columns)), np.zeros(program.days)

    def plan(self, manner: Manner) -> IntArray | None:
        """Whole numbers over all of the program's columns; None where time ran out before there were any."""
        noise = np.random.default_rng(manner.shuffle).random(len(self.program.runs)) if manner.shuffle else None
        value = self._relax()
        if value is None:
            return None
        while (open_columns := self._open()).size:
            at = self._next(open_columns, noise)
            raised = self._settle(open_columns[self.group[open_columns] == at], value, manner)
            if raised is None:
                break
            value = raised
        return rounded(self.program, self._all())

    def _relax(self) -> float | None:
        left = self.limits.left()
        if left <= 0.0:
            return None
        if left < float("inf"):
            self.highs.setOptionValue("time_limit", self.highs.getRunTime() + left)
        self.highs.run()
        if self.highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        solution = self.highs.getSolution()
        self.values = np.array(solution.col_value)[: len(self.columns)]
        self.weights = np.maximum(-np.array(solution.row_dual)[self.linear.usage_rows], 0.0).sum(axis=0)
        return float(self.highs.getInfo().objective_function_value)

    def _open(self) -> IntArray:
        """The columns in fractions."""
        return np.nonzero(np.abs(self.values - np.rint(self.values)) > _TINY)[0]

    def _next(self, open_columns: IntArray, noise: FloatArray | None) -> int:
        """The group to settle next: of those on the days that matter most, the one that is nearest to whole."""
        program = self.program
        sums = np.concatenate([[0.0], self.weights.cumsum()])
        weight = sums[program.after] - sums[program.first]
        if noise is not None:
            weight = weight * (1.0 + 0.2 * noise)
        group = self.group[open_columns]
        key = weight[group] + self.values[open_columns] % 1.0
        return int(group[key.argmax()])

    def _settle(self, candidates: IntArray, value: float, manner: Manner) -> float | None:
        """Settle one more run of a group on the candidate that raises the relaxation least; its value, or None
        where time ran out or nothing is feasible."""
        order = np.argsort(-(self.values[candidates] % 1.0), kind="stable")
        best: tuple[float, int, float] | None = None
        wanted = {int(column): float(np.ceil(self.values[column])) for column in candidates}
        for column in map(int, candidates[order][: manner.tries]):
            self._raise(column, wanted[column])
            raised = self._relax()
            if raised is not None and raised - value <= manner.easy * abs(value) + _TINY:
                self.least[column] = wanted[column]
                return raised
            if raised is not None and (best is None or raised < best[0]):
                best = (raised, column, wanted[column])
            self._raise(column, self.least[column])
            if self.limits.over():
                return None
        if best is None:
            return None
        self.least[best[1]] = best[2]
        self._raise(best[1], best[2])
        return self._relax()

    def _raise(self, column: int, least: float) -> None:
        self.highs.changeColBounds(column, float(least), INFINITE)

    def _all(self) -> FloatArray:
        every = np.zeros(self.program.picks)
        every[self.columns] = np.maximum(self.values, self.least)
        return every
