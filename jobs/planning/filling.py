"""Fills a room: the runs that it leaves open are settled by a dive from where the room's own stands.

What may be in use is whole by now, and may be exceeded only at what that costs, so the dive soon sees which choices
the room has no place for. It is short: one that comes to more than it may is given up, and another tried.
"""

from __future__ import annotations

import numpy as np

from jobs.planning.dive import Manner
from jobs.planning.limits import Limits
from jobs.planning.model import IntArray
from jobs.planning.rooms import Room


class Filling:
    """Dives in one room, each as its manner says. It takes over the room's own dive: one filling to a room."""

    def __init__(self, room: Room) -> None:
        self.dive = dive = room.dive
        self.least, self.most = dive.least.copy(), dive.most.copy()
        self.uses = np.rint(dive.every[len(dive.columns) : -1])
        dive.mine = np.ones(len(dive.columns), dtype=bool)

    def plan(self, manner: Manner, limits: Limits) -> IntArray | None:
        """Whole numbers over all of the program's columns, worth at most `manner.most`, or None."""
        dive = self.dive
        dive.limits = limits
        dive.again_from(self.least, self.most)
        dive.given(self.uses)
        return dive.plan(manner)
