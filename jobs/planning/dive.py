"""A whole-number plan from the relaxation: one run's choice is settled at a time, and all else is relaxed anew.

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
from jobs.planning.rounding import rounded

OVER_COST = 200.0
_TINY = 1e-5
_FAR = 10.0
_STEEP = 2e-4
_MORE, _FEWER, _AGAIN = 0.5, 0.25, 0.05
_NONE = (highspy.HighsModelStatus.kInfeasible, highspy.HighsModelStatus.kObjectiveBound)


@dataclass(frozen=True)
class Manner:
    """How a dive goes: how many choices of a run it tries, how much the relaxation may rise without trying
    another (a share of its value), what shuffles runs (0: nothing) that matter alike to within `alike`, what a plan may
    be worth at most, how often it may go back to try otherwise, and from which day outward (None: the days that
    matter most first). It ends early, for others to settle the rest, where no more than `few` choices are in
    fractions, or half as many again and the next step would raise the relaxation steeply. While that costs hardly
    anything it settles up to `at_once` runs in one step."""

    tries: int = 8
    easy: float = 2e-5
    shuffle: int = 0
    alike: float = 0.2
    most: float = INFINITE
    returns: int = 30
    about: int | None = None
    few: int = 0
    at_once: int = 1


@dataclass(frozen=True)
class Step:
    """A column settled at `wanted` or more: its bounds before that, and how much the relaxation rose."""

    column: int
    least: float
    most: float
    raised: float
    wanted: float


def _next_at_once(at_once: float, most: int, done: bool) -> float:
    """How many runs to settle in the next step: a little more after each that was done, far fewer where one was not."""
    if at_once <= 1.0:
        return at_once + _AGAIN
    return min(at_once + _MORE, most) if done else at_once * _FEWER


class Dive:
    """One dive, over some of a program's columns, with shortage beyond `most_short` at a great cost. Where `only`
    says which groups, the others stay in fractions."""

    def __init__(
        self,
        program: Program,
        columns: IntArray,
        most_short: int | None,
        limits: Limits,
        only: BoolArray | None = None,
    ) -> None:
        self.program, self.columns, self.limits, self.most_short = program, columns, limits, most_short
        self.mine = np.ones(len(columns), dtype=bool) if only is None else only[program.group[columns]]
        scope = scope_of(program, columns, most_short)
        if most_short is not None:
            scope = scope.softened(OVER_COST)
        self.linear = linear_of(program, scope)
        self.highs = quiet_highs()
        self.highs.setOptionValue("solver", "simplex")
        self.highs.passModel(self.linear.model)
        self.group = program.group[columns]
        self.least, self.most = np.zeros(len(columns)), np.full(len(columns), INFINITE)
        self.every, self.weights = np.zeros(self.linear.count), np.zeros(program.days)
        self.values = self.every[: len(columns)]
        self.steps: list[Step] = []

    def plan(self, manner: Manner) -> IntArray | None:
        """Whole numbers over all of the program's columns; None where there are none worth at most
        `manner.most`, or time ran out before there were any."""
        value = self.settled(manner)
        if value is None and (manner.most < INFINITE or not self.values.any()):
            return None
        return rounded(self.program, self._all())

    def again_from(self, least: FloatArray, most: FloatArray) -> None:
        """Let the choices be from `least` to `most` again, forgetting what was settled since."""
        for column in np.nonzero((self.least != least) | (self.most != most))[0]:
            self.bound(int(column), least[column], most[column])
        self.steps = []

    def given(self, uses: FloatArray) -> None:
        """Count greatest uses and lacks as `uses` already, whatever of them is used: more costs what it does."""
        for at, number in enumerate(uses, len(self.columns)):
            self.bound(at, float(number), INFINITE)

    def stirred(self, seed: int, pick_mm: float, peak_mm: float) -> None:
        """Let choices and greatest uses cost up to so much more or less, at random: of relaxations worth nearly the
        same another comes out."""
        costs, draw = self._costs(), np.random.default_rng(seed).uniform
        costs[: len(self.columns)] += draw(-pick_mm, pick_mm, len(self.columns))
        costs[self.linear.peaks] += draw(-peak_mm, peak_mm, self.program.types)
        self._cost(costs)

    def calmed(self) -> float | None:
        """What the relaxation comes to at what all truly costs."""
        self._cost(self._costs())
        return self.relaxed()

    def settled(self, manner: Manner) -> float | None:
        """What the relaxation comes to once all that is to be settled is; None as for a plan."""
        draw = np.random.default_rng(manner.shuffle).random
        noise = manner.alike * draw(len(self.program.runs)) if manner.shuffle else None
        self.highs.setOptionValue("objective_bound", manner.most)
        value = self.relaxed()
        returns, at_once = 0, float(manner.at_once)
        while value is not None and (open_columns := self.open()).size > manner.few:
            before, stood, key = value, self.every, self._key(open_columns, noise, manner.about)
            value = self._several(open_columns, key, value, manner, int(at_once)) if at_once > 1.0 else None
            if manner.at_once > 1:
                at_once = _next_at_once(at_once, manner.at_once, value is not None)
            if value is None:
                at = self.group[open_columns[key.argmax()]]
                value = self._settle(open_columns[self.group[open_columns] == at], before, manner)
            if value is not None and 2 * open_columns.size <= 3 * manner.few and value > (1 + _STEEP) * before:
                self._stand_at(stood)
                return before
            while value is not None and value > manner.most:
                returns += 1
                value = self._back() if returns <= manner.returns else None
        return value

    def relaxed(self) -> float | None:
        """The value of the relaxation, infinite where there is none worth what a plan may be; None where time ran
        out."""
        left = self.limits.left()
        if left <= 0.0:
            return None
        if left < float("inf"):
            self.highs.setOptionValue("time_limit", self.highs.getRunTime() + left)
        self.highs.run()
        status = self.highs.getModelStatus()
        if status in _NONE:
            return INFINITE
        if status != highspy.HighsModelStatus.kOptimal:
            return None
        solution = self.highs.getSolution()
        self._stand_at(np.array(solution.col_value))
        self.weights = np.maximum(-np.array(solution.row_dual)[self.linear.usage_rows], 0.0).sum(axis=0)
        return float(self.highs.getInfo().objective_function_value)

    def _stand_at(self, every: FloatArray) -> None:
        self.every = every
        self.values = every[: len(self.columns)]

    def open(self) -> IntArray:
        """The columns to settle that are in fractions."""
        return np.nonzero(self.mine & (np.abs(self.values - np.rint(self.values)) > _TINY))[0]

    def _key(self, open_columns: IntArray, noise: FloatArray | None, about: int | None) -> FloatArray:
        """What is to be settled first, greatest: what the days that matter most have, or the days nearest to one; of
        those what is nearest to whole."""
        weight = self._weight() if about is None else -self._days_off(about)
        if noise is not None:
            weight = weight * (1.0 + noise) if about is None else weight + noise
        key: FloatArray = weight[self.group[open_columns]] + self.values[open_columns] % 1.0
        return key

    def _several(
        self, open_columns: IntArray, key: FloatArray, value: float, manner: Manner, at_once: int
    ) -> float | None:
        """Settle one more run of each of several groups in one step, each on its likeliest choice; the value. None, and
        nothing settled, where that costs more than hardly anything or time ran out."""
        ranked = open_columns[np.argsort(-key, kind="stable")]
        _, firsts = np.unique(self.group[ranked], return_index=True)
        steps = [
            Step(column, self.least[column], self.most[column], 0.0, float(np.ceil(self.values[column])))
            for column in map(int, ranked[np.sort(firsts)[:at_once]])
        ]
        stood = self.every
        for step in steps:
            self.bound(step.column, step.wanted, step.most)
        raised = self.relaxed()
        if raised is not None and raised - value <= len(steps) * manner.easy * abs(value) + _TINY:
            self.steps += [replace(step, raised=(raised - value) / len(steps)) for step in steps]
            return raised
        for step in steps:
            self.bound(step.column, step.least, step.most)
        self._stand_at(stood)
        return None

    def _weight(self) -> FloatArray:
        """(groups,), by what the days of each matter."""
        program = self.program
        sums = np.concatenate([[0.0], self.weights.cumsum()])
        weight: FloatArray = sums[program.after] - sums[program.first]
        return weight

    def _days_off(self, day: int) -> FloatArray:
        """(groups,), how far the days of each are from `day`, each day more than all else."""
        program = self.program
        off = np.maximum(np.maximum(program.first - day, day + 1 - program.after), 0)
        days: FloatArray = _FAR * off
        return days

    def _settle(self, candidates: IntArray, value: float, manner: Manner) -> float | None:
        """Settle one more run of a group on the candidate that raises the relaxation least; its value, or None
        where time ran out."""
        order = np.argsort(-(self.values[candidates] % 1.0), kind="stable")
        wanted = {int(column): float(np.ceil(self.values[column])) for column in candidates}
        best, best_column = INFINITE, int(candidates[order[0]])
        for column in map(int, candidates[order][: manner.tries]):
            kept = self.least[column]
            self.bound(column, wanted[column], self.most[column])
            raised = self.relaxed()
            if raised is None:
                return None
            if raised - value <= manner.easy * abs(value) + _TINY:
                self.steps.append(Step(column, kept, self.most[column], raised - value, wanted[column]))
                return raised
            if raised < best:
                best, best_column = raised, column
            self.bound(column, kept, self.most[column])
        kept, most, want = self.least[best_column], self.most[best_column], wanted[best_column]
        self.steps.append(Step(best_column, kept, most, best - value, want))
        self.bound(best_column, want, most)
        return self.relaxed()

    def _back(self) -> float | None:
        """Go back to the step that raised the relaxation most, and take the other way there."""
        if not self.steps:
            return None
        at = max(range(len(self.steps)), key=lambda n: (self.steps[n].raised, n))
        step = self.steps[at]
        for undone in reversed(self.steps[at:]):
            self.bound(undone.column, undone.least, undone.most)
        del self.steps[at:]
        self.bound(step.column, step.least, step.wanted - 1.0)
        self.steps.append(replace(step, raised=0.0))
        return self.relaxed()

    def bound(self, column: int, least: float, most: float) -> None:
        """Let a column of the linear program be from `least` to `most`."""
        if column < len(self.least):
            self.least[column], self.most[column] = least, most
        self.highs.changeColBounds(column, float(least), float(most))

    def _costs(self) -> FloatArray:
        return np.array(self.linear.model.col_cost_)

    def _cost(self, costs: FloatArray) -> None:
        self.highs.changeColsCost(len(costs), np.arange(len(costs), dtype=np.int32), costs)

    def _all(self) -> FloatArray:
        every = np.zeros(self.program.picks)
        every[self.columns] = np.maximum(self.values, self.least)
        return every
