"""The words of the ledger: what can happen, how it was seen, and the states that follow."""

from __future__ import annotations

from enum import StrEnum


class Kind(StrEnum):
    """What happened to a piece, a group of pieces, or a quantity of counted goods; or, last, to a contradiction."""

    REGISTERED = "registered"
    SENT = "sent"
    RECEIVED = "received"
    SET = "set"
    CAST = "cast"
    CALLED_OFF = "called off"
    STRIPPED = "stripped"
    CLEANED = "cleaned"
    RETURNED = "returned"
    COUNTED = "counted"
    FOUND_DAMAGED = "found damaged"
    INSPECTED = "inspected"
    REPAIRED = "repaired"
    CUT_DOWN = "cut down"
    RETIRED = "retired"
    LOST = "lost"
    FOUND = "found"
    RETAGGED = "retagged"
    REVERSED = "reversed"
    SETTLED = "settled"


class Seen(StrEnum):
    """How the one who reports it knows."""

    SCANNED = "scanned"
    TYPED = "typed"
    BY_GROUP = "by group"
    ASSUMED = "assumed"


class GroupKind(StrEnum):
    """What one press can speak for. A pour is known by its place, a crate by its own piece."""

    POUR = "pour"
    CRATE = "crate"
    DOCKET = "docket"


class Fitness(StrEnum):
    SOUND = "sound"
    WATCH = "watch"
    UNFIT = "unfit"


class Standing(StrEnum):
    """Whether the books still carry the piece. Only HELD gear counts as stock."""

    UNREGISTERED = "unregistered"
    HELD = "held"
    LOST = "lost"
    RETIRED = "retired"
    CUT_DOWN = "cut down"


class Phase(StrEnum):
    """Where a piece stands in the pour it was last set in."""

    NONE = ""
    SET = "set"
    CAST = "cast"
    CALLED_OFF = "called off"
    STRIPPED = "stripped"


class PlaceKind(StrEnum):
    YARD = "yard"
    WASH_BAY = "wash bay"
    WORKSHOP = "workshop"
    SITE = "site"
    POUR = "pour"


GROUP_PRESSES: dict[GroupKind, frozenset[Kind]] = {
    GroupKind.POUR: frozenset({Kind.SET, Kind.CAST, Kind.CALLED_OFF, Kind.STRIPPED, Kind.CLEANED}),
    GroupKind.CRATE: frozenset(
        {
            Kind.SENT,
            Kind.RECEIVED,
            Kind.SET,
            Kind.STRIPPED,
            Kind.CLEANED,
            Kind.RETURNED,
            Kind.LOST,
            Kind.FOUND,
        }
    ),
    GroupKind.DOCKET: frozenset({Kind.SENT, Kind.RECEIVED, Kind.SET, Kind.RETURNED}),
}
"""Which presses make sense about which group; anything else is refused before it is recorded."""
