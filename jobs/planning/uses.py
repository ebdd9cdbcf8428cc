"""Greatest uses and lacks in whole numbers, with all runs in fractions.

Where something lacks, what lacks comes in whole pieces and adds up to little more than must lack. Few ways to share
that out are cheap, and a dive that comes upon one of them run by run ends with a dear one. A solver finds a cheap one
before any run is settled: the runs then have play, and few joints.
"""

from __future__ import annotations

import numpy as np

from jobs.planning.limits import Limits
from jobs.planning.linear import linear_of, scope_of
from jobs.planning.program import FloatArray, Program
from jobs.planning.relax import Relaxation
from jobs.planning.whole import UNSEARCHED, settled

_REACH_MM = 100.0
_NEAR = 3e-4
_NODES = 2_000
_GAP_MM = 40.0


def uses_in_whole(
    program: Program, found: Relaxation, most_short: int | None, limits: Limits
) -> tuple[FloatArray | None, float]:
    """What every column of a linear program of this section after its choices stands at, but for shortage beyond
    the cap, where runs at most `most_short` short come to next to the relaxation, or to the least found in time; None
    where there was none. And a lower bound in mm on what any plan costs."""
    columns = np.nonzero((found.reduced <= _REACH_MM) | (program.rank(found.reduced) < 1))[0]
    outcome = settled(
        linear_of(program, scope_of(program, columns, most_short)),
        limits,
        nodes=_NODES,
        gap_mm=_GAP_MM,
        whole=np.zeros(len(columns), dtype=bool),
        target=(1 + _NEAR) * found.bound,
        options=UNSEARCHED,
    )
    bound = max(found.bound, min(outcome.bound, found.bound + _REACH_MM))
    return (None if outcome.values is None else np.rint(outcome.values[len(columns) : -1])), bound
