"""The last runs of a dive are settled together by a solver.

A dive settles most runs at no loss and the last few at a great one, as each has to take what the others left. So it
ends while some are left, or before a step that would cost much, and those runs are composed together: they are few, and
all else stays as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from jobs.planning.dive import Dive, Manner
from jobs.planning.limits import Limits
from jobs.planning.linear import linear_of, part_of
from jobs.planning.model import IntArray
from jobs.planning.program import INFINITE
from jobs.planning.whole import settled
from jobs.planning.windows import Windows

_TINY = 1e-5
_NODES = 500
_SHARE_GAP = 3e-4


def finished(
    dive: Dive, manner: Manner, windows: Windows, enough: float, stages: Sequence[int], seconds: float
) -> IntArray | None:
    """A dive's best plan with the runs that it leaves in fractions composed together, first where as many choices are
    left as the first of `stages` says, then deeper, until one is worth `enough`; each time within `seconds`, from the
    choices that `windows` considers. None where there was none, or no time."""
    best, worth = None, INFINITE
    for few in stages:
        if dive.settled(replace(manner, few=few)) is None:
            break
        picks = _together(dive, windows, windows.limits.at_most(seconds))
        if picks is not None and windows.worth(picks) < worth:
            best, worth = picks, windows.worth(picks)
        if worth <= enough:
            break
    return best


def _together(dive: Dive, windows: Windows, limits: Limits) -> IntArray | None:
    program = dive.program
    left = np.zeros(len(program.runs), dtype=bool)
    left[dive.group[np.abs(dive.values - np.rint(dive.values)) > _TINY]] = True
    picks = np.zeros(program.picks, dtype=np.int64)
    picks[dive.columns] = np.rint(dive.values)
    if not left.any():
        return picks
    picks[left[program.group]] = 0
    columns = np.nonzero(left[program.group] & windows.keep)[0]
    scope = part_of(program, picks, np.nonzero(left)[0], columns, windows.most_short, windows.over_cost)
    outcome = settled(linear_of(program, scope), limits, nodes=_NODES, share_gap=_SHARE_GAP)
    if outcome.picks is None:
        return None
    picks[columns] = outcome.picks
    return picks
