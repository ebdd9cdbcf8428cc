"""Tries at a plan for a section of few runs: room for it, dives that fill the room, the last one mended.

Any one way of looking finds some plans at once and others never, so tries are short and many.
"""

from __future__ import annotations

from jobs.planning.dive import Manner
from jobs.planning.filling import Filling
from jobs.planning.limits import Limits
from jobs.planning.mending import Mending
from jobs.planning.model import IntArray
from jobs.planning.program import Program
from jobs.planning.relax import Relaxation
from jobs.planning.rooms import ALIKE, Room

_TRIES = 3
_RETURNS = 4
_SHARE = 0.2
_EACH = 3


def filled(program: Program, found: Relaxation, room: Room, goal: float, turn: int, limits: Limits) -> IntArray | None:
    """A plan in `room` that costs at most `goal`, or, on every third turn, one that came near; another each `turn`.
    None where there was neither, or no time."""
    filling = Filling(room)
    for shuffle in range(turn * _TRIES, (turn + 1) * _TRIES):
        about = room.day if shuffle % 2 else None
        picks = filling.plan(Manner(shuffle=shuffle, alike=ALIKE, most=goal, returns=_RETURNS, about=about), limits)
        if picks is not None or limits.over():
            return picks
    if turn % _EACH != _EACH - 1:
        return None
    picks = filling.plan(Manner(shuffle=turn), limits)
    return picks if picks is None else Mending(program, found, room, turn).mended(picks, goal, limits.within(_SHARE))
