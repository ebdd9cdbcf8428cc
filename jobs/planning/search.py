"""Finds a plan for one section and proves how good it is: least shortage first, then least gear cost.

The relaxation proves a bound on each, the days that matter most in whole numbers prove more; a bound is lifted
to the next value that lengths and handling can add up to. Plans are composed near the relaxation until one is
within the gap that counts as proved. A plan made by rounding stands from the first moment.

Work goes in rounds: in each, plans are composed and a bound is proved, side by side where there are hands for
both. What a round may look at is what was known when it began, and where its plan is good enough what else it
did is left aside: so the answer does not depend on which of the two was quicker, or on how many hands there are.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np

from jobs.planning.answer import PROVED_GAP
from jobs.planning.composing import Composing
from jobs.planning.day_bounds import least_of_any_day
from jobs.planning.dive import OVER_COST
from jobs.planning.least_cost import cost_of_all_days, cost_of_days
from jobs.planning.least_short import short_of_all_days, short_of_few_days
from jobs.planning.limits import Limits, Watch
from jobs.planning.model import IntArray, Section
from jobs.planning.program import Program, program_of
from jobs.planning.relax import Relaxation, likely, relaxed
from jobs.planning.rounding import rounded
from jobs.planning.windows import Windows

_TINY = 1e-6
_ROUNDS = 12
_WORK = 250
_DAYS = (3, 6, 10, 16)
_SHARES = (0.02, 0.002)
_FEW = 5
_NEAR_MM = 150.0
_SMALL = 800
_MANY = 12_000
_FREE = 60
_PASSES = 20


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
    """The search for one section, two things side by side if it has two `hands`."""

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
        if self.plan.short and not self.plan.short_bound:
            found = self._bound_short()
            if found is not None and not self.plan.short_bound:
                self._rounds(found, covered=True)
        return self.plan

    def best(self) -> SectionPlan:
        """A plan of least shortage and then least cost, with bounds."""
        short = self._bound_short() if self.program.limiting.any() else None
        self._rounds(short)
        return self.plan

    # Bounds

    def _bound_short(self) -> Relaxation | None:
        """The least shortage in fractions, and in whole numbers on the days that bind."""
        self.limits.tell(0.0, f"{self.name}: proving the least shortage")
        found = relaxed(self.program, self.near, None, self.limits, short=True)
        if found is not None:
            self.near |= found.near
            self._lift_short(found.bound)
            if self.plan.short > self.plan.short_bound:
                self._lift_short(self._short_of_few(found, _SHARES[0], self.limits.within(0.2)))
        return found

    def _short_of_few(self, found: Relaxation, share: float, limits: Limits) -> float:
        reach = min(self.plan.short, int(found.bound) + _FEW * int(self.program.section.lengths.max()) // 10)
        return short_of_few_days(self.program, found, reach, share, self.short_step, limits)

    def _bound_cost(self) -> Relaxation | None:
        """The least gear in fractions among plans as short as is proved unavoidable."""
        self.limits.tell(0.2, f"{self.name}: proving the least gear")
        cap = self._best.short_bound
        found = relaxed(self.program, self.near, cap, self.limits, short=False)
        if found is not None:
            self.near |= found.near
            self._lift_cost(CostBound(cap, found.bound, found.slope))
        return found

    # Rounds

    def _rounds(self, short: Relaxation | None, *, covered: bool = False) -> None:
        """Rounds until the plan is good enough; begun anew where more is proved to be short."""
        cap, done, composing, found = -1, 0, None, None
        for at in range(_ROUNDS):
            if self._done(covered):
                return
            if cap != self._best.short_bound:
                cap, done = self._best.short_bound, 0
                found = self._bound_cost()
                composing = None if found is None else self._composing(found, covered)
                if self._done(covered):
                    return
            if composing is None or found is None:
                return
            self.limits.tell(0.3 + 0.7 * at / _ROUNDS, f"{self.name}: composing runs")
            self._round(composing, self._prover(found, short, done), covered)
            done += 1

    def _round(self, composing: Composing, prove: Callable[[Limits], Callable[[], None]], covered: bool) -> None:
        """Compose and prove. What was proved counts only where the plan is not good enough without it."""
        goal = self._bound_at(self._best.short_bound) / (1 - PROVED_GAP)
        work = _WORK if self.program.picks > _SMALL else _WORK // 10
        if self.hands == 1:
            self._compose(composing, goal, work, covered)
            if not self._done(covered):
                prove(self.limits.within(0.4))()
            return
        aside = Watch(lambda: self.limits.over())
        with ThreadPoolExecutor(1) as pool:
            proved = pool.submit(prove, replace(self.limits, watch=aside))
            self._compose(composing, goal, work, covered)
            if self._done(covered):
                aside.off = True
            else:
                proved.result()()

    def _compose(self, composing: Composing, goal: float, work: int, covered: bool) -> None:
        """A better plan, if so much work finds one. Of many runs, days are then composed anew one after another:
        what is wrong there is wrong in few places."""
        many = self.program.picks > _MANY
        self._offer(composing.work(goal, 1 if many else work))
        if many:
            self._compose_days(composing, covered)

    def _compose_days(self, composing: Composing, covered: bool) -> None:
        """Days composed anew, those that matter most first, until none makes the plan better."""
        windows = Windows(self.program, self.limits, composing.most_short, OVER_COST, composing.keep, self.cost_step)
        days = np.argsort(-composing.found.prices.sum(axis=0), kind="stable")
        for _ in range(_PASSES):
            before = windows.worth(self._best.picks)
            for day in days:
                if self._done(covered):
                    return
                self._offer(windows.better(self._best.picks, windows.about(int(day), _FREE)))
            if windows.worth(self._best.picks) >= before:
                return

    def _prover(self, found: Relaxation, short: Relaxation | None, done: int) -> Callable[[Limits], Callable[[], None]]:
        """What to prove in a round, which gives what to do with the proof: of shortage where the plan in hand has
        more than is proved, else of cost, on more days each time."""
        plan, program, cap = self.plan, self.program, self._best.short_bound

        def of_cost(limits: Limits) -> Callable[[], None]:
            most_short = cap if program.limiting.any() else None
            enough = plan.cost * (1 - PROVED_GAP) if plan.short <= cap else float("inf")
            bound = cost_of_days(program, found, most_short, _DAYS[done], enough, limits)
            return lambda: self._lift_cost(CostBound(cap, bound, float("-inf")))

        def of_few_days(limits: Limits) -> Callable[[], None]:
            assert short is not None
            bound = self._short_of_few(short, _SHARES[1], limits)
            return lambda: self._lift_short(bound)

        def of_all_days(limits: Limits) -> Callable[[], None]:
            assert short is not None
            outcome = short_of_all_days(program, short, plan.picks, self.short_step, limits)

            def note() -> None:
                self._lift_short(outcome.bound)
                self._offer(outcome.picks)

            return note

        def of_everything(limits: Limits) -> Callable[[], None]:
            most_short = cap if program.limiting.any() else None
            outcome = cost_of_all_days(program, found, most_short, plan.picks, 0.95 * PROVED_GAP, limits)

            def note() -> None:
                self._lift_cost(CostBound(cap, min(outcome.bound, float(plan.cost)), float("-inf")))
                self._offer(outcome.picks)

            return note

        small = (found.reduced <= plan.cost - found.bound + 1.0).sum() <= _SMALL
        if short is not None and plan.short > cap and (done or small):
            return of_few_days if done == 1 else of_all_days
        if small and plan.short <= cap:
            return of_everything
        if done < len(_DAYS):
            return of_cost
        return lambda limits: lambda: None

    def _composing(self, found: Relaxation, covered: bool) -> Composing:
        cap = self._best.short_bound if self.program.limiting.any() else None
        keep = (found.reduced <= _NEAR_MM) | (self.program.rank(found.reduced) < 2) | (self._best.picks > 0)
        return Composing(self.program, found, cap, self.limits, keep, self.cost_step, covered=covered)

    # What is known

    def _done(self, covered: bool) -> bool:
        if covered and (not self.plan.short or self.plan.short_bound):
            return True
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
