"""Shortage in whole numbers: first of the days alone that make it unavoidable, then of all days.

Leaving days out can only make less short, so what is proved of some holds of all. Choices that a plan less
short than the one in hand cannot use are left out too: they cost more than is left between the bound of the
relaxation and that plan.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from jobs.planning.limits import Limits
from jobs.planning.linear import linear_of, scope_of
from jobs.planning.model import IntArray
from jobs.planning.program import BoolArray, Program
from jobs.planning.relax import Relaxation
from jobs.planning.whole import Outcome, settled

_NODES = 400
_SHARE = 0.02


def short_of_few_days(program: Program, found: Relaxation, short: int, step: int, limits: Limits) -> float:
    """A lower bound in mm on shortage, from the days that bind; `short` is known to be reachable."""
    weight = found.prices.sum(axis=0)
    binding = weight > _SHARE * weight.max(initial=0.0)
    if not binding.any():
        return found.bound
    days = np.nonzero(binding)[0]
    sums = np.concatenate([[0], binding.cumsum()])
    active = sums[program.after] > sums[program.first]
    columns = _useful(program, found, short, active[program.group])
    scope = scope_of(program, columns, None, short=True)
    linear = linear_of(program, replace(scope, days=days, used=scope.used[:, days]))
    outcome = settled(linear, limits, nodes=_NODES, gap_mm=0.99 * step)
    return max(found.bound, min(float(short), outcome.bound))


def short_of_all_days(
    program: Program, found: Relaxation, short: int, least: float, step: int, nodes: int, limits: Limits
) -> Outcome:
    """A plan less than `short` short, over all of the program's columns, `least` if that is found, and a bound; `short`
    itself where there is none. Without a first plan, as HiGHS simplifies the program only then."""
    columns = _useful(program, found, short)
    linear = linear_of(program, scope_of(program, columns, short - step, short=True))
    outcome = settled(linear, limits, nodes=nodes, gap_mm=0.99 * step, target=least + 0.5 * step)
    return Outcome(over_all(program, columns, outcome.picks), min(float(short), outcome.bound))


def over_all(program: Program, columns: IntArray, picks: IntArray | None) -> IntArray | None:
    """A plan over some columns as one over all of them."""
    if picks is None:
        return None
    every = np.zeros(program.picks, dtype=np.int64)
    every[columns] = picks
    return every


def _useful(program: Program, found: Relaxation, short: int, among: BoolArray | None = None) -> IntArray:
    """The choices that a plan less than `short` short can use."""
    useful = found.reduced <= short - found.bound + 1.0
    return np.nonzero(useful if among is None else useful & among)[0]
