"""One call of HiGHS: the relaxation of a program, or a whole-number plan within a neighbourhood of it.

HiGHS is stopped by nodes, by the clock and when called off. What it returns as a plan is only taken as whole
numbers of choices; shortage and cost are measured afresh from those, exactly.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import highspy
import numpy as np
from numpy.typing import NDArray

from jobs.planning.limits import Limits, Watch
from jobs.planning.model import IntArray
from jobs.planning.program import INFINITE, FloatArray, Program

BoolArray = NDArray[np.bool_]
_LARGE = 12_000
_WHOLE = highspy.HighsVarType.kInteger
_NO_HEURISTICS = {
    "mip_heuristic_effort": 0.0,
    "mip_heuristic_run_feasibility_jump": False,
    "mip_detect_symmetry": False,
}


@dataclass(frozen=True)
class Relaxation:
    """An optimum without whole numbers: value, choices taken, greatest uses, lacks, reduced costs."""

    value: float
    picks: FloatArray
    peaks: FloatArray
    lacks: FloatArray
    reduced: FloatArray


@dataclass(frozen=True)
class Corner:
    """A part of the program to look in. `keep` are the choices allowed, `least` how many of each are fixed,
    `peaks` and `lacks` greatest values allowed per type; `loose` leaves the choices fractional."""

    keep: BoolArray | None = None
    least: IntArray | None = None
    peaks: FloatArray | None = None
    lacks: FloatArray | None = None
    loose: bool = False


@dataclass(frozen=True)
class Outcome:
    """What a search of a corner found: a solution or None, and a bound valid in that corner."""

    bound: float
    solution: FloatArray | None = None
    value: float = INFINITE
    finished: bool = False

    def picks(self, program: Program) -> IntArray | None:
        """The plan, as whole numbers over the choice columns."""
        if self.solution is None:
            return None
        return np.rint(self.solution[: program.picks]).astype(np.int64)


@dataclass
class Solver:
    """Solves one program under one set of limits."""

    program: Program
    limits: Limits
    calls: int = field(default=0)

    def relax(self, cost: FloatArray, most_short: int | None, corner: Corner | None = None) -> Relaxation | None:
        """The relaxation, or None where there is none or time ran out."""
        program = self.program
        highs = program.highs(cost, most_short, whole=False)
        self._restrict(highs, corner or Corner())
        if program.picks > _LARGE:
            highs.setOptionValue("solver", "ipm")
        self._run(highs, self.limits)
        if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        solution = highs.getSolution()
        values, picks, types = np.array(solution.col_value), program.picks, program.types
        return Relaxation(
            value=highs.getInfo().objective_function_value,
            picks=values[:picks],
            peaks=values[picks : picks + types],
            lacks=values[picks + types :],
            reduced=np.array(solution.col_dual)[:picks],
        )

    def search(
        self,
        cost: FloatArray,
        most_short: int | None,
        corner: Corner,
        *,
        gap: float,
        nodes: int,
        share: float = 1.0,
        start: IntArray | None = None,
        heuristics: bool = True,
        enough: float | None = None,
    ) -> Outcome:
        """Look for a plan in a corner until `gap` (a share of its value), `nodes` or its share of the time.

        A plan that costs at most `enough` ends the search.
        """
        program = self.program
        highs = program.highs(cost, most_short, whole=False)
        self._restrict(highs, corner)
        first = program.picks if corner.loose else 0
        whole = np.arange(first, program.picks + 2 * program.types, dtype=np.int32)
        highs.changeColsIntegrality(len(whole), whole, np.array([_WHOLE] * len(whole)))
        highs.setOptionValue("mip_rel_gap", gap)
        highs.setOptionValue("mip_max_nodes", nodes)
        if not heuristics:
            for option, value in _NO_HEURISTICS.items():
                highs.setOptionValue(option, value)
        if enough is not None:
            highs.setOptionValue("objective_target", enough)
        if start is not None:
            solution = highspy.HighsSolution()
            solution.col_value = list(program.completed(start))
            highs.setSolution(solution)
        self._run(highs, self.limits.within(share))
        return _outcome(highs)

    def _restrict(self, highs: highspy.Highs, corner: Corner) -> None:
        program = self.program
        if corner.keep is not None or corner.least is not None:
            least = np.zeros(program.picks) if corner.least is None else corner.least.astype(float)
            most = program.runs[program.group].astype(float)
            if corner.keep is not None:
                most = np.where(corner.keep, most, least)
            _bound(highs, 0, least, most)
        if corner.peaks is not None:
            _bound(highs, program.picks, np.zeros(program.types), corner.peaks)
        if corner.lacks is not None:
            _bound(highs, program.picks + program.types, np.zeros(program.types), corner.lacks)

    def _run(self, highs: highspy.Highs, limits: Limits) -> None:
        self.calls += 1
        left = limits.left()
        if left <= 0.0:
            highs.setOptionValue("time_limit", 0.0)
        elif left < float("inf"):
            highs.setOptionValue("time_limit", left)
        if limits.watch is not None:
            highs.cbMipInterrupt += _stop_if(limits.watch)
        highs.run()


def _stop_if(watch: Watch) -> Callable[[Any], None]:
    """What HiGHS asks now and then while it searches."""

    def look(event: Any) -> None:
        if watch.called_off():
            event.interrupt()

    return look


def _bound(highs: highspy.Highs, first: int, lower: FloatArray, upper: FloatArray) -> None:
    columns = np.arange(first, first + len(lower), dtype=np.int32)
    highs.changeColsBounds(len(columns), columns, lower, upper)


def _outcome(highs: highspy.Highs) -> Outcome:
    info, status = highs.getInfo(), highs.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        return Outcome(bound=INFINITE, finished=True)
    bound = info.mip_dual_bound
    finished = status == highspy.HighsModelStatus.kOptimal
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return Outcome(bound=bound, finished=finished)
    return Outcome(
        bound=bound,
        solution=np.array(highs.getSolution().col_value),
        value=info.objective_function_value,
        finished=finished,
    )
