"""Gear cost in whole numbers on the days that matter most, with all other days counted at what a piece is worth
there: a bound that the relaxation alone does not reach.

The usage limits of the other days are taken out of the program, each unit of use there priced as the relaxation
prices it (Lagrangean relaxation: A. M. Geoffrion, Mathematical Programming Study 2, 1974). The runs that touch
none of the days left take the choice that is then cheapest; those of the days left are settled in whole numbers.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from jobs.planning.limits import Limits
from jobs.planning.linear import linear_of, scope_of
from jobs.planning.program import Program
from jobs.planning.relax import Relaxation
from jobs.planning.whole import UNSEARCHED, settled

_SLACK = 1e-5


def cost_of_days(
    program: Program, found: Relaxation, most_short: int | None, days: int, enough: float, limits: Limits
) -> float:
    """A lower bound in mm on the cost of plans at most `most_short` short, from as many `days`; no better than
    `found` where that proves nothing more, and no better than `enough`, where it stops."""
    core = np.zeros(program.days, dtype=bool)
    core[np.argsort(-found.prices.sum(axis=0), kind="stable")[:days]] = True
    sums = np.concatenate([[0], core.cumsum()])
    active = sums[program.after] > sums[program.first]
    far = np.where(core, 0.0, (1 - _SLACK) * found.prices)
    pick_cost = program.joint_cost + program.priced(far)
    cheapest = np.minimum.reduceat(pick_cost, program.edges[:-1])
    apart = float((cheapest * program.runs)[~active].sum())
    reach = max(enough - found.bound, 0.0)
    columns = np.nonzero(active[program.group] & (found.reduced <= reach))[0]
    level_cost = np.zeros(len(program.levels.kind))
    np.add.at(level_cost, program.levels.at, -far)
    scope = scope_of(program, columns, most_short)
    scope = replace(
        scope, days=np.nonzero(core)[0], used=scope.used[:, core], pick_cost=pick_cost[columns], level_cost=level_cost
    )
    # Cuts lift the bound at the root; branching hardly does, and looking for plans takes most of the time.
    outcome = settled(linear_of(program, scope), limits, nodes=1, gap_mm=1.0, enough=enough - apart, options=UNSEARCHED)
    return max(found.bound, min(outcome.bound + apart, found.bound + reach))
