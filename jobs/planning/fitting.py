"""Tries at a plan for a section of few runs: room for it, dives that fill the room, what comes near brought nearer.

Any one way of looking finds some plans at once and others never, so tries are short and many.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from jobs.planning.dive import Manner
from jobs.planning.filling import Filling
from jobs.planning.limits import Limits
from jobs.planning.model import IntArray
from jobs.planning.rooms import ALIKE, Room
from jobs.planning.windows import Windows

_TRIES = 3
_RETURNS = 4
_NEAR_MM = 60.0
_OVER_MM, _OVER = 500.0, 0.001
_WINDOWS = 0.5
_FREE = 60


def filled(room: Room, goal: float, hand: float, turn: int, limits: Limits, windows: Windows) -> IntArray | None:
    """A plan in `room` that costs at most `goal`, or the best that came near, some days of it composed anew, or any
    better than the one in hand, worth `hand`, where that is far off; another each `turn`. None where there was none, or
    no time."""
    program, filling = room.dive.program, Filling(room)
    best, worth = None, goal + max(_OVER_MM, _OVER * goal)
    tries = _TRIES if goal - room.least >= program.section.joint_price else 1
    for shuffle in range(turn * _TRIES, turn * _TRIES + tries):
        about = room.day if shuffle % 2 else None
        last = best is None and shuffle == turn * _TRIES + tries - 1
        most = max(worth, hand - windows.step) if last else worth
        picks = filling.plan(Manner(shuffle=shuffle, alike=ALIKE, most=most, returns=_RETURNS, about=about), limits)
        if picks is not None and windows.worth(picks) < most:
            best, worth = picks, windows.worth(picks)
        if worth <= goal or limits.over():
            return best
    if best is None:
        return None
    keep = (room.reduced <= _NEAR_MM) | (program.rank(room.reduced) < 2)
    return _nearer(best, goal, room.day, replace(windows, keep=keep, limits=limits.at_most(_WINDOWS)))


def _nearer(picks: IntArray, goal: float, about: int, windows: Windows) -> IntArray:
    """The plan with one day after another composed anew, outward, until it costs at most `goal`."""
    program = windows.program
    for day in np.argsort(np.abs(np.arange(program.days) - about), kind="stable"):
        if windows.worth(picks) <= goal or windows.limits.over():
            break
        picks = windows.better(picks, np.nonzero(program.about(int(day), _FREE))[0])
    return picks
