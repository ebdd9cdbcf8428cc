"""One try at a plan for a section of few runs: room for it, runs drawn that nearly keep within, the rest mended.

Any one way of looking finds some plans at once and others never, so tries are short and many.
"""

from __future__ import annotations

from jobs.planning.annealing import Annealing
from jobs.planning.limits import Limits
from jobs.planning.mending import Mending
from jobs.planning.model import IntArray
from jobs.planning.program import Program
from jobs.planning.relax import Relaxation
from jobs.planning.rooms import room_for

_COPIES = 4
_EASY = 0.6
_ROOM = 0.5
_MENDED = 2
_SHARE = 0.6


def fitted(
    program: Program,
    found: Relaxation,
    most_short: int | None,
    goal: float,
    most: float,
    turn: int,
    limits: Limits,
) -> IntArray | None:
    """A plan near `found`, at most `most_short` short where that can be, to cost at most `goal`; another each `turn`.
    None where there was no time, or only room for plans that cost `most` or more."""
    worth = found.bound + _EASY * (goal - found.bound)
    room = room_for(program, found, most_short, worth, turn, limits.within(_ROOM))
    if room is None or room.value >= most or limits.over():
        return None
    mending = Mending(program, found, room, turn)
    drawn = Annealing(program, found, room, turn).plans(_COPIES, limits)
    found_plans = []
    for picks in sorted(drawn, key=mending.worth)[:_MENDED]:
        found_plans.append(mending.mended(picks, goal, limits.within(_SHARE)))
        if mending.fits(found_plans[-1], goal):
            break
    return min(found_plans, key=program.measure)
