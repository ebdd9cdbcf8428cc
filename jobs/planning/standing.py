"""What is known of one section while it is searched: the best plan so far and the proved bounds on it.

Plans are measured afresh, exactly, before they are taken, wherever they come from. What is found here is told to
whoever searches the same section beside, and what is heard from there is taken in.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from jobs.planning.answer import PROVED_GAP
from jobs.planning.day_bounds import least_of_any_day
from jobs.planning.model import IntArray
from jobs.planning.program import Program
from jobs.planning.rounding import rounded

_TINY = 1e-6


@dataclass(frozen=True)
class SectionPlan:
    """Choices over a program's columns, what they lack and cost, and the proved least of each, in mm."""

    picks: IntArray
    short: int
    short_bound: int
    cost: int
    cost_bound: int

    @property
    def leeway(self) -> float:
        """How many mm more it could cost and count as proved; less than nothing where it costs too much for that."""
        return PROVED_GAP * self.cost - (self.cost - self.cost_bound)

    def good(self, spare: float = 0.0) -> bool:
        """Shortage proved least, and cost within the gap that counts as proved and `spare` mm more."""
        return self.short == self.short_bound and self.leeway + spare >= 0


@dataclass(frozen=True)
class CostBound:
    """No plan at most `cap` short costs less than `value`; for each mm more that it may be short, `slope` less."""

    cap: int
    value: float
    slope: float

    def at(self, cap: int) -> float:
        """The bound on the cost of plans at most `cap` short: convex in it, so the slope holds everywhere."""
        return self.value if cap <= self.cap else self.value + self.slope * (cap - self.cap)


@dataclass(frozen=True)
class News:
    """Something found: a plan, as the columns taken and how often, or a bound on shortage, or one on cost."""

    plan: tuple[IntArray, IntArray] | None = None
    short_bound: float = 0.0
    cost_bound: CostBound | None = None


def lifted(bound: float, step: int) -> int:
    """The least multiple of `step` that is not below `bound`, allowing for the solver's tolerance.

    >>> [lifted(1200.0000001, 100), lifted(1201.0, 100), lifted(-5.0, 100)]
    [1200, 1300, 0]
    """
    if not math.isfinite(bound) or bound <= 0:
        return 0
    return math.ceil((bound - _TINY * max(1.0, abs(bound))) / step) * step


def _nobody(news: News) -> None:
    """Nobody searches beside."""


class Standing:
    """The best plan and bounds of a program. A plan made by rounding stands from the first moment; `found` is true once
    a better one was, `own` while the best is one found here, `heard_of` once anything was heard from beside."""

    def __init__(self, program: Program) -> None:
        self.program, section = program, program.section
        self.tell: Callable[[News], None] = _nobody
        self.short_step = math.gcd(*map(int, section.lengths)) or 1
        self.cost_step = math.gcd(*map(int, section.price), section.joint_price) or 1
        picks = rounded(program, np.zeros(program.picks))
        short, cost = program.measure(picks)
        least_short, least_cost = least_of_any_day(section)
        self._best = SectionPlan(picks, short, lifted(least_short, self.short_step), cost, 0)
        self._cost_bounds = [CostBound(0, least_cost, 0.0)]
        self.heard_of = self.found = self.own = False

    @property
    def plan(self) -> SectionPlan:
        """The best plan so far, with the bounds that hold of it."""
        bound = self.bound_at(self._best.short)
        return replace(self._best, cost_bound=min(bound, self._best.cost))

    def bound_at(self, cap: int) -> int:
        """The best bound on cost that holds of plans as short as `cap`: the next value that costs can add up to."""
        return lifted(self.proved_at(cap), self.cost_step)

    def proved_at(self, cap: int) -> float:
        """The same as it was proved."""
        return max((known.at(cap) for known in self._cost_bounds), default=0.0)

    def offer(self, picks: IntArray | None) -> None:
        """Take a plan if it makes every run and is better than the one in hand."""
        if picks is not None and self._taken(picks):
            self.own = True
            columns = np.nonzero(picks)[0]
            self.tell(News(plan=(columns, picks[columns])))

    def lift_short(self, bound: float) -> None:
        """Note a bound on shortage, unless choices were left out of the table: then it holds only of those in it."""
        if self.program.section.complete and self._short_lifted(bound):
            self.tell(News(short_bound=bound))

    def lift_cost(self, bound: CostBound) -> None:
        """Note a bound on cost, unless choices were left out of the table."""
        if self.program.section.complete:
            self._cost_bounds.append(bound)
            self.tell(News(cost_bound=bound))

    def hear(self, news: News) -> None:
        """Take in what was found beside."""
        self.heard_of = True
        if news.plan is not None:
            picks = np.zeros(self.program.picks, dtype=np.int64)
            picks[news.plan[0]] = news.plan[1]
            if self._taken(picks):
                self.own = False
        self._short_lifted(news.short_bound)
        if news.cost_bound is not None:
            self._cost_bounds.append(news.cost_bound)

    def _taken(self, picks: IntArray) -> bool:
        if not self._makes_all(picks):
            return False
        short, cost = self.program.measure(picks)
        if (short, cost) >= (self._best.short, self._best.cost):
            return False
        self._best = replace(self._best, picks=picks, short=short, cost=cost)
        self.found = True
        return True

    def _makes_all(self, picks: IntArray) -> bool:
        made = np.bincount(self.program.group, weights=picks, minlength=len(self.program.runs))
        return bool((picks >= 0).all() and (made == self.program.runs).all())

    def _short_lifted(self, bound: float) -> bool:
        best = min(lifted(bound, self.short_step), self._best.short)
        if best <= self._best.short_bound:
            return False
        self._best = replace(self._best, short_bound=best)
        return True
