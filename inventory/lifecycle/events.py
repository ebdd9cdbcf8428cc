"""Events as plain frozen values, their order, and the upgrade of old versions on reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from inventory.lifecycle.kinds import GroupKind, Kind, Seen

VERSION = 2
"""The version this code writes. Rows are never rewritten: `upgraded` brings older data up on reading."""


class Group(NamedTuple):
    """A pour (id of its place), a crate (id of its piece) or a docket (its id)."""

    kind: GroupKind
    id: int


class Key(NamedTuple):
    """The order of the fold. It does not depend on arrival, so any order of arrival gives the same state."""

    happened: datetime
    device: str
    seq: int
    id: UUID


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened, about one piece, one group, or a quantity of one type.

    happened   zone-aware; the device's time corrected for its clock
    device     code of the device, "" for the desk; seq its own running number
    piece      id of the piece, or None
    group      the group it speaks for, or None; never together with `piece`, save in a reversal for one piece
    type       id of the gear type, for counted goods and for pieces without a readable tag
    place      id of the place where it happened or which it led to
    docket     id of the docket it belongs to
    quantity   of counted goods; None for pieces
    target     for a reversal: the id of the event it takes back
    data       what else was said: dirty, grade, reason, crate, from_place, condition, uses, everything
    """

    id: UUID
    kind: Kind
    happened: datetime
    device: str = ""
    seq: int = 0
    piece: int | None = None
    group: Group | None = None
    type: int | None = None
    place: int | None = None
    docket: int | None = None
    seen: Seen = Seen.SCANNED
    quantity: int | None = None
    target: UUID | None = None
    version: int = VERSION
    data: Mapping[str, Any] = field(default_factory=dict)

    @property
    def key(self) -> Key:
        return Key(self.happened, self.device, self.seq, self.id)


def upgraded(version: int, kind: Kind, data: Mapping[str, Any]) -> Mapping[str, Any]:
    """The data of an event as this version of the code reads it.

    1   setting "everything from this docket" set its tools and crates as well: said by `everything`
    2   it sets what is cast against or holds it; tools and crates stay where they lie

    >>> upgraded(1, Kind.SET, {}), upgraded(2, Kind.SET, {})
    ({'everything': True}, {})
    """
    if version > VERSION:
        raise ValueError(f"event version {version} is newer than this program ({VERSION}): update Pourback")
    return {**data, "everything": True} if version < 2 and kind == Kind.SET else data
