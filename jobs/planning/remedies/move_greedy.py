"""A first set of moves by placing pour after pour: each as near to its day as what is placed before it leaves room.

Room on a day is measured by the day prices that the master knows. What is placed so may still lack a little: then
prices are learnt from it, or more room is left, and it is placed anew. It is seldom the fewest; the least stays proved
by the master.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from jobs.planning.limits import Limits
from jobs.planning.remedies.cuts import FloatArray
from jobs.planning.remedies.move_master import TINY, Master
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.remedies.trials import Trials

_ROOM = (0.0, 0.01, 0.02, 0.04, 0.07, 0.1, 0.15, 0.2)
_LEARNT = 6


def placed_one_by_one(trials: Trials, master: Master, limits: Limits) -> dict[str, int]:
    """Moves that are covered and keep all that the master keeps; none where none were found in the time."""
    for room in _ROOM:
        for _ in range(_LEARNT):
            if limits.over():
                return {}
            values = _placed(trials.timeline, master, room)
            if values is None:
                break
            shifts = master.shifts_of(values)
            if not master.learn(values, 0.5, limits):
                if shifts and trials.of(shifts, limits).covered:
                    return shifts
                break
    return {}


def _placed(timeline: Timeline, master: Master, room: float) -> FloatArray | None:
    """A whole value for each of the master's columns, with that share of every day left free."""
    columns: dict[str, list[int]] = defaultdict(list)
    for at, (name, _) in enumerate(master.columns):
        columns[name].append(at)
    worths = np.array([price.worths for price in master.pool])
    most = np.array([price.limits for price in master.pool]) * (1 - room)
    taken = np.zeros_like(most)
    touched: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for number, (row, _) in enumerate(master.fixed_rows):
        for at, share in row.items():
            touched[at].append((number, share))
    left = [limit for _, limit in master.fixed_rows]
    values = np.zeros(len(master.columns))
    for pour in sorted(timeline.pours, key=lambda pour: (not pour.fixed, pour.cast, pour.name)):
        nearest = sorted(columns[pour.name], key=lambda at: (abs(master.columns[at][1]), at))
        for at in nearest:
            held = np.nonzero(master.cover[:, at])[0]
            if any(share > left[number] + TINY for number, share in touched[at]):
                continue
            fits = taken[:, held] + worths[:, at, None] <= most[:, held] * (1 + 1e-4) + TINY
            if fits.all() or pour.fixed:
                break
        else:
            return None
        values[at] = 1.0
        taken[:, held] += worths[:, at, None]
        for number, share in touched[at]:
            left[number] -= share
    return values
