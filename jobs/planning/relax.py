"""The relaxation of a section, choices in fractions: its value is a proved bound, its prices say which days matter.

Few of the choices matter, so the program is solved over some of them, all the others are priced with what a
piece of each type is worth on each day, those that would help are added, and so on until none would (column
generation: P. C. Gilmore & R. E. Gomory, Operations Research 9, 1961). At any moment the value less what the
best choice of each run could still save is a bound over all choices.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import highspy
import numpy as np

from jobs.planning.limits import Limits
from jobs.planning.linear import Linear, linear_of, scope_of
from jobs.planning.program import BoolArray, FloatArray, Program, quiet_highs

_ROUNDS = 25
_FIRST = 6
_MORE = 3
_CLOSE = 1e-7


@dataclass(frozen=True)
class Relaxation:
    """`bound` holds over all choices; `slope` is what one mm more of shortage allowed would change it by (0 or
    less). `prices` is (types, days), what one piece more on hand that day would save; `reduced` what taking a
    choice costs beyond the bound; `near` the choices that were considered."""

    bound: float
    slope: float
    prices: FloatArray
    reduced: FloatArray
    near: BoolArray


def likely(program: Program) -> BoolArray:
    """The choices of each group that are likely to matter: few joints, little length."""
    worth = program.joint_cost + 0.3 * program.section.choices.totals[program.choice]
    return program.rank(worth) < _FIRST


def relaxed(
    program: Program, near: BoolArray, most_short: int | None, limits: Limits, *, short: bool
) -> Relaxation | None:
    """The relaxation of least shortage, or of least gear cost with shortage at most `most_short`.

    None where time ran out before any bound was found.
    """
    near, best = near.copy(), None
    cost = np.zeros(program.picks) if short else program.joint_cost
    for _ in range(_ROUNDS):
        linear = linear_of(program, scope_of(program, np.nonzero(near)[0], most_short, short=short))
        highs = quiet_highs(limits)
        highs.setOptionValue("solver", "ipm")
        highs.setOptionValue("run_crossover", "off")
        highs.passModel(linear.model)
        highs.run()
        if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            break
        value = highs.getInfo().objective_function_value
        found = _priced(program, linear, highs, cost, value, near)
        if best is None or found.bound > best.bound - _CLOSE * max(1.0, abs(value)):
            best = found
        worse = found.reduced < -1e-6
        if value - best.bound <= _CLOSE * max(1.0, abs(value)) or not (worse & ~near).any():
            break
        near |= worse & (program.rank(found.reduced) < _MORE)
    return best and replace(best, near=near)


def _priced(
    program: Program, linear: Linear, highs: highspy.Highs, cost: FloatArray, value: float, near: BoolArray
) -> Relaxation:
    duals = np.array(highs.getSolution().row_dual)
    prices = np.maximum(-duals[linear.usage_rows], 0.0)
    worth = np.zeros(len(program.runs))
    worth[linear.groups] = duals[: len(linear.groups)]
    reduced = cost + program.priced(prices) - worth[program.group]
    least = np.minimum.reduceat(reduced, program.edges[:-1])
    return Relaxation(
        bound=value + float(np.minimum(least, 0.0) @ program.runs),
        slope=min(0.0, float(duals[-1])),
        prices=prices,
        reduced=reduced,
        near=near,
    )
