"""Finds a plan for one section and proves how good it is: least shortage first, then least gear cost.

Each stage solves the relaxation, which proves a bound; then whole greatest uses and lacks alone, with choices
left fractional, which says how much of each type to aim for; then whole choices near that. Most runs come out
whole in the relaxation, so what is left to decide is small. A bound is lifted to the next value that lengths
and handling can add up to. A plan made by rounding stands from the first moment.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from jobs.planning.answer import PROVED_GAP
from jobs.planning.limits import Limits
from jobs.planning.model import IntArray, Section
from jobs.planning.program import FloatArray, Program, program_of
from jobs.planning.rounding import rounded
from jobs.planning.whole import BoolArray, Corner, Outcome, Relaxation, Solver
from jobs.planning.windows import Windows

_TINY = 1e-6
_AIMS = ((0.0001, 40), (0.0004, 120))
_TURNS = 4
_FEW_OPEN = 400


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


def lifted(bound: float, step: int) -> int:
    """The least multiple of `step` that is not below `bound`, allowing for the solver's tolerance.

    >>> [lifted(1200.0000001, 100), lifted(1201.0, 100), lifted(-5.0, 100)]
    [1200, 1300, 0]
    """
    if not math.isfinite(bound) or bound <= 0:
        return 0
    return math.ceil((bound - _TINY * max(1.0, abs(bound))) / step) * step


def _near_zero(relaxed: Relaxation, share: float) -> BoolArray:
    """Choices whose reduced cost is at most a share of the relaxation's value."""
    return relaxed.reduced <= share * max(relaxed.value, 1.0) + _TINY


class SectionSearch:
    """The search for one section."""

    def __init__(self, section: Section, limits: Limits) -> None:
        self.program: Program = program_of(section)
        self.limits = limits
        self.solver = Solver(self.program, limits)
        self.short_step = math.gcd(*map(int, section.lengths)) or 1
        self.cost_step = math.gcd(*map(int, section.price), section.joint_price) or 1
        self.section_mm = section.types[0].section_mm
        self._cost_bounds: dict[int, int] = {}
        self._best = self._first_plan()

    def _first_plan(self) -> SectionPlan:
        even = np.zeros(self.program.picks)
        picks = rounded(self.program, even)
        short, cost = self.program.measure(picks)
        return SectionPlan(picks, short, 0, cost, 0)

    def covered(self) -> SectionPlan:
        """A plan with nothing short, or a proof that there is none, or the best that was found of both."""
        relaxed = self._bound_short() if self.program.limiting.any() else None
        if relaxed is not None and self.plan.short_bound == 0 < self.plan.short:
            self._least_short(relaxed)
        return self.plan

    def best(self) -> SectionPlan:
        """A plan of least shortage and then least cost, with bounds."""
        relaxed = self._bound_short() if self.program.limiting.any() else None
        self._least_cost()
        if relaxed is not None and self.plan.short > self.plan.short_bound and not self.limits.over():
            self._least_short(relaxed)
            self._least_cost()
        if not any(cap >= self.plan.short for cap in self._cost_bounds):
            self._bound_cost()
        return self.plan

    # Shortage

    def _bound_short(self) -> Relaxation | None:
        self.limits.tell(0.0, f"Section {self.section_mm} mm: proving the least shortage")
        relaxed = self.solver.relax(self.program.lack_cost, None)
        if relaxed is not None:
            self._lift_short(relaxed.value)
            self._offer(rounded(self.program, relaxed.picks))
        return relaxed

    def _least_short(self, relaxed: Relaxation) -> None:
        if self.plan.short == self.plan.short_bound:
            return
        cost = self.program.lack_cost
        self._offer(self._near(cost, None, relaxed).picks(self.program))
        if self.plan.short > self.plan.short_bound and not self.limits.over():
            found = self.solver.search(cost, None, Corner(), gap=0.0, nodes=2000, share=0.6, start=self.plan.picks)
            self._lift_short(found.bound)
            self._offer(found.picks(self.program))

    # Gear cost

    def _least_cost(self) -> None:
        self.limits.tell(0.2, f"Section {self.section_mm} mm: proving the least gear")
        relaxed, cap = self._bound_cost()
        if relaxed is None:
            return
        self._offer(rounded(self.program, relaxed.picks))
        if not self._done():
            self._aims(relaxed, cap)
        if not self._done():
            self._whole_cost(relaxed, cap)

    def _bound_cost(self) -> tuple[Relaxation | None, int]:
        """The relaxation at the shortage that is proved unavoidable or else at the one in hand.

        A bound on cost holds only of plans as short as the cap it was found at, or less.
        """
        for cap in sorted({self.plan.short_bound, self.plan.short}):
            relaxed = self.solver.relax(self.program.gear_cost, cap)
            if relaxed is not None:
                self._lift_cost(relaxed.value, cap)
                return relaxed, cap
        return None, self.plan.short

    def _aims(self, relaxed: Relaxation, cap: int) -> None:
        """Whole greatest uses and lacks with fractional choices, then whole choices under those."""
        for attempt, (share, nodes) in enumerate(_AIMS):
            self.limits.tell(0.4 + 0.2 * attempt, f"Section {self.section_mm} mm: composing runs")
            corner = Corner(keep=_near_zero(relaxed, share), loose=True)
            found = self.solver.search(
                self.program.gear_cost, cap, corner, gap=0.0005, nodes=nodes, share=0.4, heuristics=False
            )
            if found.solution is None:
                self._offer(self._near(self.program.gear_cost, cap, relaxed).picks(self.program))
            else:
                hopeful = found.value <= relaxed.value / (1 - PROVED_GAP)
                self._try_aim(np.rint(found.solution[self.program.picks :]), cap, _TURNS if hopeful else 1)
            if self._done():
                return

    def _try_aim(self, aim: FloatArray, cap: int, turns: int) -> None:
        """From several corners of the relaxation at the aim: what it has whole differs from one to the next."""
        program = self.program
        peaks, lacks = aim[: program.types], aim[program.types :]
        enough = self._bound_at(cap) / (1 - PROVED_GAP)
        for turn in range(turns):
            cost = program.gear_cost.copy()
            if turn:
                cost[: program.picks] += np.random.default_rng(turn).random(program.picks)
            at_aim = self.solver.relax(cost, cap, Corner(peaks=peaks, lacks=lacks))
            if at_aim is None:
                return
            if int((at_aim.picks % 1.0 > _TINY).sum()) <= _FEW_OPEN:
                self._offer(self._near(program.gear_cost, cap, at_aim, peaks, lacks, enough).picks(program))
            if not self._done():
                self._mend(at_aim, peaks, lacks)
            if self._done():
                return

    def _mend(self, at_aim: Relaxation, peaks: FloatArray, lacks: FloatArray) -> None:
        """Round the relaxation and mend what exceeds the aim, some days at a time."""
        program, section = self.program, self.program.section
        ceiling = np.repeat(np.rint(peaks).astype(np.int64)[:, None], len(section.days), axis=1)
        for n in np.nonzero(program.limiting)[0]:
            days = section.stock_days[n]
            ceiling[n, days] = np.minimum(ceiling[n, days], section.stock[n] + int(lacks[n]))
        price = section.price + 20.0 * section.lengths * program.limiting
        windows = Windows(program, self.limits, ceiling, price, _near_zero(at_aim, 0.0005))
        picks = windows.mended(rounded(program, at_aim.picks), 4 * len(section.days))
        self._offer(picks)
        if not self._done():
            self._offer(windows.polished(picks))

    def _done(self) -> bool:
        return self.plan.good or self.limits.over()

    def _near(
        self,
        cost: FloatArray,
        cap: int | None,
        relaxed: Relaxation,
        peaks: FloatArray | None = None,
        lacks: FloatArray | None = None,
        enough: float | None = None,
    ) -> Outcome:
        """Whole choices near a relaxation: those it has whole stay as they are."""
        corner = Corner(
            keep=_near_zero(relaxed, 0.0005),
            least=np.floor(relaxed.picks + _TINY).astype(np.int64),
            peaks=peaks,
            lacks=lacks,
        )
        return self.solver.search(cost, cap, corner, gap=0.0002, nodes=100, share=0.5, enough=enough)

    def _whole_cost(self, relaxed: Relaxation, cap: int) -> None:
        """The whole program but for choices that cannot be in a plan better than the one in hand."""
        if self.plan.short > cap:
            return
        self.limits.tell(0.8, f"Section {self.section_mm} mm: looking for better")
        room = self.plan.cost - relaxed.value
        keep = relaxed.reduced <= max(room, 0.0) + _TINY
        found = self.solver.search(
            self.program.gear_cost,
            cap,
            Corner(keep=keep),
            gap=PROVED_GAP * 0.95,
            nodes=500,
            start=self.plan.picks,
        )
        self._lift_cost(min(found.bound, float(self.plan.cost)), cap)
        self._offer(found.picks(self.program))

    # What is known

    def _offer(self, picks: IntArray | None) -> bool:
        """Take a plan if it is whole and better than the one in hand; say whether it was."""
        if picks is None or not self._makes_all(picks):
            return False
        short, cost = self.program.measure(picks)
        if (short, cost) >= (self.plan.short, self.plan.cost):
            return False
        self._best = replace(self._best, picks=picks, short=short, cost=cost)
        return True

    def _makes_all(self, picks: IntArray) -> bool:
        made = np.bincount(self.program.group, weights=picks, minlength=len(self.program.runs))
        return bool((picks >= 0).all() and (made == self.program.runs).all())

    def _lift_short(self, bound: float) -> None:
        best = max(self.plan.short_bound, min(lifted(bound, self.short_step), self.plan.short))
        self._best = replace(self._best, short_bound=best)

    def _lift_cost(self, bound: float, cap: int) -> None:
        self._cost_bounds[cap] = max(self._cost_bounds.get(cap, 0), lifted(bound, self.cost_step))

    def _bound_at(self, cap: int) -> int:
        """The best bound on cost that holds of plans as short as `cap`."""
        return max((bound for known, bound in self._cost_bounds.items() if known >= cap), default=0)

    @property
    def plan(self) -> SectionPlan:
        """The best plan so far, with the bounds that hold of it."""
        bound = self._bound_at(self._best.short)
        return replace(self._best, cost_bound=min(bound, self._best.cost))
