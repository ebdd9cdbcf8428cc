"""A scope settled in whole numbers by HiGHS: the best plan it finds there and a bound that holds of that scope.

HiGHS is stopped by nodes, by the clock and when called off. What it returns as a plan is only taken as whole
numbers of choices; shortage and cost are measured afresh from those, exactly.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import highspy
import numpy as np

from jobs.planning.limits import Limits
from jobs.planning.linear import Linear, Scope
from jobs.planning.model import IntArray
from jobs.planning.program import INFINITE, BoolArray, FloatArray, Program, quiet_highs

# Without the searches that HiGHS makes in programs within the program.
UNSEARCHED = dict.fromkeys(
    ("mip_heuristic_run_rins", "mip_heuristic_run_rens", "mip_heuristic_run_root_reduced_cost"), False
)


@dataclass(frozen=True)
class Outcome:
    """`picks` are whole numbers over the scope's columns, or None; `bound` is infinite where there are none; `value`
    is what they come to. `values` is what every column of the program stands at."""

    picks: IntArray | None
    bound: float
    value: float = INFINITE
    values: FloatArray | None = None


def settled(
    linear: Linear,
    limits: Limits,
    *,
    nodes: int,
    start: FloatArray | None = None,
    share_gap: float = 0.0,
    gap_mm: float = 0.0,
    whole: BoolArray | None = None,
    target: float = -INFINITE,
    enough: float = INFINITE,
    options: Mapping[str, Any] | None = None,
) -> Outcome:
    """The best whole-number plan of a scope, until either gap is reached, `nodes` are looked at, one is worth
    `target` or the bound is `enough`.

    Choices that are not in `whole`, if given, may be taken in fractions; they are rounded in what is returned.
    """
    kinds = [highspy.HighsVarType.kInteger] * linear.count
    if whole is not None:
        kinds[: linear.picks] = [kinds[0] if is_whole else highspy.HighsVarType.kContinuous for is_whole in whole]
    linear.model.integrality_ = kinds
    highs = quiet_highs(limits)
    highs.passModel(linear.model)
    all_options: dict[str, Any] = {"mip_max_nodes": nodes, "mip_rel_gap": share_gap, "mip_abs_gap": max(gap_mm, 1e-6)}
    all_options |= {"mip_detect_symmetry": False, "mip_heuristic_run_feasibility_jump": False}
    all_options |= {"objective_target": target, **(options or {})}
    if start is not None:
        # HiGHS 1.16 with presolve puts a first solution at less than it costs, and then finds none better.
        all_options["presolve"] = "off"
    for option, value in all_options.items():
        highs.setOptionValue(option, value)
    if start is not None:
        solution = highspy.HighsSolution()
        solution.col_value = list(start)
        highs.setSolution(solution)
    highs.cbMipInterrupt += _stop_if(limits, enough)
    highs.run()
    return _outcome(highs, linear.picks)


def start_of(program: Program, linear: Linear, scope: Scope, picks: IntArray) -> FloatArray:
    """A plan over all of the program's columns as HiGHS takes it for a first solution of a scope."""
    usage = program.usage(picks)
    lacks = program.section.lacks(usage)
    start = np.zeros(linear.count)
    start[linear.level_columns] = program.level_use(usage)
    start[linear.peaks] = usage.max(axis=1, initial=0)
    start[linear.lacks] = lacks
    start[: linear.picks] = picks[scope.columns]
    if scope.most_short is not None:
        start[-1] = max(0, int(program.section.lengths @ lacks) - scope.most_short)
    return start


def _stop_if(limits: Limits, enough: float) -> Callable[[Any], None]:
    """What HiGHS asks now and then while it searches."""

    def look(event: Any) -> None:
        if event.data_out.mip_dual_bound >= enough or limits.over():
            event.interrupt()

    return look


def _outcome(highs: highspy.Highs, picks: int) -> Outcome:
    info = highs.getInfo()
    if highs.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
        return Outcome(None, INFINITE)
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return Outcome(None, info.mip_dual_bound)
    values = np.array(highs.getSolution().col_value)
    whole = np.rint(values[:picks]).astype(np.int64)
    return Outcome(whole, info.mip_dual_bound, info.objective_function_value, values)
