"""Finds a plan for one section and proves how good it is: least shortage first, then least gear cost.

The relaxation proves a bound on each; a bound is lifted to the next value that lengths and handling can add
up to. Dives from the relaxation give plans, and windows of days composed anew make the best of them better,
until it is within the gap that counts as proved. A plan made by rounding stands from the first moment.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from jobs.planning.answer import PROVED_GAP
from jobs.planning.day_bounds import least_of_any_day
from jobs.planning.dive import OVER_COST, Dive, Manner
from jobs.planning.least_short import over_all, short_of_all_days, short_of_few_days
from jobs.planning.limits import Limits
from jobs.planning.linear import linear_of, scope_of
from jobs.planning.model import IntArray, Section
from jobs.planning.outward import Outward
from jobs.planning.program import BoolArray, Program, program_of
from jobs.planning.relax import Relaxation, likely, relaxed
from jobs.planning.rounding import rounded
from jobs.planning.whole import settled, start_of
from jobs.planning.windows import Windows

_TINY = 1e-6
_DIVES = 8
_MANY = 12_000
_FREE = 60
_NEAR = 0.04
_NODES = 500
_WHOLE = 2_500


@dataclass(frozen=True)
class SectionPlan:
    """Choices over a program's columns, what they lack and cost, and the proved least of each, in mm."""

    picks: IntArray
    short: int
    short_bound: int
    cost: int
    cost_bound: int

    @property
    def good(self) -> bool:
        """Shortage proved least and cost within the gap that counts as proved."""
        return self.short == self.short_bound and self.cost - self.cost_bound <= PROVED_GAP * self.cost


@dataclass(frozen=True)
class CostBound:
    """No plan at most `cap` short costs less than `value`; for each mm more that it may be short, `slope` less."""

    cap: int
    value: float
    slope: float

    def at(self, cap: int) -> float:
        """The bound on the cost of plans at most `cap` short: convex in it, so the slope holds everywhere."""
        return self.value if cap <= self.cap else self.value + self.slope * (cap - self.cap)


def lifted(bound: float, step: int) -> int:
    """The least multiple of `step` that is not below `bound`, allowing for the solver's tolerance.

    >>> [lifted(1200.0000001, 100), lifted(1201.0, 100), lifted(-5.0, 100)]
    [1200, 1300, 0]
    """
    if not math.isfinite(bound) or bound <= 0:
        return 0
    return math.ceil((bound - _TINY * max(1.0, abs(bound))) / step) * step


class SectionSearch:
    """The search for one section, with as many dives side by side as it has `hands`."""

    def __init__(self, section: Section, limits: Limits, hands: int = 1) -> None:
        self.program: Program = program_of(section)
        self.limits, self.hands = limits, hands
        self.name = f"Section {section.types[0].section_mm} mm"
        self.short_step = math.gcd(*map(int, section.lengths)) or 1
        self.cost_step = math.gcd(*map(int, section.price), section.joint_price) or 1
        self.near = likely(self.program)
        self._best, self._cost_bounds = self._first_plan()

    def _first_plan(self) -> tuple[SectionPlan, list[CostBound]]:
        picks = rounded(self.program, np.zeros(self.program.picks))
        short, cost = self.program.measure(picks)
        least_short, least_cost = least_of_any_day(self.program.section)
        short_bound = lifted(least_short, self.short_step)
        return SectionPlan(picks, short, short_bound, cost, 0), [CostBound(0, least_cost, 0.0)]

    def covered(self) -> SectionPlan:
        """A plan with nothing short, or a proof that there is none, or the best that was found of both."""
        if self.program.limiting.any() and self.plan.short:
            found = self._bound_short()
            if found is not None and self.plan.short_bound == 0 < self.plan.short:
                self._reach_cover()
                self._least_short(found)
        return self.plan

    def best(self) -> SectionPlan:
        """A plan of least shortage and then least cost, with bounds."""
        found = self._bound_short() if self.program.limiting.any() else None
        self._least_cost(range(self.hands))
        if found is not None and self._least_short(found):
            self._least_cost(range(self.hands))
        if not self._done():
            self._least_cost(range(self.hands, _DIVES))
        return self.plan

    # Shortage

    def _bound_short(self) -> Relaxation | None:
        self.limits.tell(0.0, f"{self.name}: proving the least shortage")
        found = relaxed(self.program, self.near, None, self.limits, short=True)
        if found is not None:
            self.near |= found.near
            self._lift_short(found.bound)
        return found

    def _least_short(self, found: Relaxation) -> bool:
        """Prove that more must be short, or find a plan that is less so; say whether either was done."""
        before = self.plan
        if before.short > before.short_bound and not self.limits.over():
            self.limits.tell(0.7, f"{self.name}: proving the least shortage")
            limits = self.limits.within(0.4)
            self._lift_short(short_of_few_days(self.program, found, self.plan.short, self.short_step, limits))
        if self.plan.short > self.plan.short_bound and not self.limits.over():
            limits = self.limits.within(0.6)
            outcome = short_of_all_days(self.program, found, self.plan.picks, self.short_step, limits)
            self._lift_short(outcome.bound)
            self._offer(outcome.picks)
        return (self.plan.short, self.plan.short_bound) != (before.short, before.short_bound)

    def _reach_cover(self) -> None:
        """Look for a plan with nothing short. That costs little is what tells near plans apart."""
        near = relaxed(self.program, self.near, 0, self.limits, short=False)
        if near is not None:
            self._dives(near, 0, range(_DIVES), covered=True)

    # Gear cost

    def _least_cost(self, turns: range) -> None:
        self.limits.tell(0.2, f"{self.name}: proving the least gear")
        cap = self.plan.short_bound
        found = relaxed(self.program, self.near, cap, self.limits, short=False)
        if found is None:
            return
        self.near |= found.near
        self._lift_cost(CostBound(cap, found.bound, found.slope))
        if not self._done():
            self._dives(found, cap, turns)
        if not self._done():
            self._whole_cost(found, cap)

    def _dives(self, found: Relaxation, cap: int, turns: range, *, covered: bool = False) -> None:
        """Plan after plan, each made better window by window, until one is good enough."""
        most_short = cap if self.program.limiting.any() else None
        for first in range(turns.start, turns.stop, self.hands):
            self.limits.tell(0.3 + 0.4 * first / _DIVES, f"{self.name}: composing runs")
            worth = self._windows(found, most_short).worth(self._best.picks)
            plan = partial(self._planned, found, most_short, worth, covered)
            for picks in self._side_by_side(plan, range(first, first + self.hands)):
                self._offer(picks)
                if covered and self.plan.short == 0:
                    return
            if not self._done():
                self._compose_windows(found, most_short)
            if self._done():
                return

    def _side_by_side(self, plan: Callable[[int], IntArray | None], turns: Sequence[int]) -> Sequence[IntArray | None]:
        if self.hands == 1:
            return [plan(turn) for turn in turns]
        with ThreadPoolExecutor(self.hands) as pool:
            return list(pool.map(plan, turns))

    def _planned(
        self, found: Relaxation, most_short: int | None, worth: float, covered: bool, turn: int
    ) -> IntArray | None:
        """The first plan is what one dive gives; the second is made outward; all others must be better, unless
        only cover is asked for."""
        program, keep = self.program, self._worth_a_look(found)
        if turn == 1 and not covered and program.picks <= _MANY:
            near = found.reduced <= _NEAR * float(program.section.price.mean())
            return Outward(program, found, most_short, self.limits.within(0.7), near).plan()
        dive = Dive(program, np.nonzero(keep)[0], most_short, self.limits)
        if turn < self.hands or covered:
            return dive.plan(Manner(shuffle=turn))
        goal = lifted(found.bound, self.cost_step) / (1 - PROVED_GAP)
        most = goal if turn % 2 else max(goal, worth - self.cost_step)
        return dive.plan(Manner(shuffle=turn, most=most))

    def _windows(self, found: Relaxation, most_short: int | None) -> Windows:
        keep = self._worth_a_look(found)
        return Windows(self.program, self.limits, most_short, OVER_COST, keep, self.cost_step)

    def _compose_windows(self, found: Relaxation, most_short: int | None) -> None:
        """Days composed anew, those that matter most first, until none makes the plan better."""
        windows = self._windows(found, most_short)
        days = np.argsort(-found.prices.sum(axis=0), kind="stable")
        gained = True
        while gained and not self._done():
            before = windows.worth(self._best.picks)
            for day in days:
                if self._done():
                    return
                self._offer(windows.better(self._best.picks, windows.about(int(day), _FREE)))
            gained = windows.worth(self._best.picks) < before

    def _whole_cost(self, found: Relaxation, cap: int) -> None:
        """All at once, but for choices that cannot be in a plan better than the one in hand."""
        program, mine = self.program, self.plan
        useful = found.reduced <= mine.cost - found.bound + 1.0
        if mine.short > cap or useful.sum() > _WHOLE:
            return
        self.limits.tell(0.8, f"{self.name}: looking for better")
        columns = np.nonzero(useful | (mine.picks > 0))[0]
        scope = scope_of(program, columns, cap)
        linear = linear_of(program, scope)
        start = start_of(program, linear, scope, mine.picks)
        outcome = settled(linear, self.limits, nodes=_NODES, start=start, share_gap=0.95 * PROVED_GAP)
        self._lift_cost(CostBound(cap, min(outcome.bound, float(mine.cost)), float("-inf")))
        self._offer(over_all(program, columns, outcome.picks))

    def _worth_a_look(self, found: Relaxation) -> BoolArray:
        """Choices that cost little beyond the relaxation, and the likeliest of each group."""
        reach = 0.18 if self.program.picks <= _MANY else 0.06
        cheap = found.reduced <= reach * float(self.program.section.price.mean())
        rank = self.program.rank(found.reduced)
        return (cheap & (rank < (20 if self.program.picks <= _MANY else 8))) | (rank < 2)

    # What is known

    def _done(self) -> bool:
        return self.plan.good or self.limits.over()

    def _offer(self, picks: IntArray | None) -> None:
        """Take a plan if it makes every run and is better than the one in hand."""
        if picks is None or not self._makes_all(picks):
            return
        short, cost = self.program.measure(picks)
        if (short, cost) < (self._best.short, self._best.cost):
            self._best = replace(self._best, picks=picks, short=short, cost=cost)

    def _makes_all(self, picks: IntArray) -> bool:
        made = np.bincount(self.program.group, weights=picks, minlength=len(self.program.runs))
        return bool((picks >= 0).all() and (made == self.program.runs).all())

    def _lift_short(self, bound: float) -> None:
        if not self.program.section.complete:
            return
        best = max(self._best.short_bound, min(lifted(bound, self.short_step), self._best.short))
        self._best = replace(self._best, short_bound=best)

    def _lift_cost(self, bound: CostBound) -> None:
        """Note a bound, unless choices were left out of the table: then it holds only of those in it."""
        if self.program.section.complete:
            self._cost_bounds.append(bound)

    def _bound_at(self, cap: int) -> int:
        """The best bound on cost that holds of plans as short as `cap`."""
        return max((lifted(known.at(cap), self.cost_step) for known in self._cost_bounds), default=0)

    @property
    def plan(self) -> SectionPlan:
        """The best plan so far, with the bounds that hold of it."""
        bound = self._bound_at(self._best.short)
        return replace(self._best, cost_bound=min(bound, self._best.cost))
