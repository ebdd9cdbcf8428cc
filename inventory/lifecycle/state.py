"""The state of one piece: what the fold of its events comes to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from inventory.lifecycle.events import Group, Key
from inventory.lifecycle.kinds import Fitness, GroupKind, Phase, Standing


@dataclass(frozen=True, slots=True)
class State:
    """Where a piece is and how it is.

    place            id of its place; None while it is on a docket's truck, lost, or off the books
    docket           the docket it is on, or came to this site with
    pour             the pour it was last set in (id of its place), kept after stripping until it is set again
                     or leaves, so that "clean" and "move up a level" can still speak for it
    crate            the crate whose contents it is listed in
    uses             times cast in its life; uses_since_clean since it was last cleaned
    since            when it came to this place
    last             key of the newest event that reached it
    """

    standing: Standing = Standing.UNREGISTERED
    place: int | None = None
    docket: int | None = None
    pour: int | None = None
    phase: Phase = Phase.NONE
    crate: int | None = None
    dirty: bool = False
    fitness: Fitness = Fitness.SOUND
    uses: int = 0
    uses_since_clean: int = 0
    since: datetime | None = None
    last: Key | None = None

    def groups(self, piece: int, is_crate: bool) -> frozenset[Group]:
        """The groups whose events this piece reads now; a crate always reads its own."""
        found = set()
        if self.pour is not None:
            found.add(Group(GroupKind.POUR, self.pour))
        if self.docket is not None:
            found.add(Group(GroupKind.DOCKET, self.docket))
        if is_crate:
            found.add(Group(GroupKind.CRATE, piece))
        elif self.crate is not None:
            found.add(Group(GroupKind.CRATE, self.crate))
        return frozenset(found)


@dataclass(frozen=True, slots=True)
class Finding:
    """A contradiction between the record and what was seen, for a person to settle."""

    code: str
    event: UUID
