"""What happens at each end of each side: how the runs of a panel meet.

Forms lie outside the outline. At an outside corner of 90 degrees one run seats (its splayed end against
the face of the next form) and the other passes (runs on by its overrun); all corners of a panel turn the
same way. At an inside corner neither can pass, since beyond it is concrete: both stop. Beside an open side
an end is free; against something solid it stops. A corner that is not 90 degrees takes no clamp and no
seat: at such an outside corner the run that would have seated stops, square, and the corner is made up on
site; it is flagged. Two sides in one line meet at a turn of 0: neither seats, so both stop.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from jobs.planning.findings import Finding
from jobs.planning.outline import Outline
from jobs.planning.panels import Hand, Panel

End = Literal["seats", "passes", "stops", "free"]


@dataclass(frozen=True, slots=True)
class Corner:
    """Where the side before meets the side after; sides counted from 0. `turn` in degrees, 90 outside."""

    before: int
    after: int
    turn: float
    forms: int

    @property
    def joins_runs(self) -> bool:
        """Whether a run stands on both sides of it."""
        return self.forms == 2

    @property
    def takes_clamp(self) -> bool:
        """A clamp holds two forms at 90 degrees, outside or inside."""
        return self.joins_runs and abs(self.turn) == 90


@lru_cache(maxsize=4096)
def corners_of(outline: Outline) -> tuple[Corner, ...]:
    """Every corner, that at the start of side 0 first."""
    sides = outline.sides
    return tuple(
        Corner(
            before=(index - 1) % len(sides),
            after=index,
            turn=outline.turn_before(index),
            forms=sum(sides[at].edge == "form" for at in (index - 1, index)),
        )
        for index in range(len(sides))
    )


@lru_cache(maxsize=4096)
def clamps_of(outline: Outline) -> int:
    """How many of its corners take a clamp."""
    return sum(corner.takes_clamp for corner in corners_of(outline))


def ends_of(outline: Outline, side: int, seats_at: Hand = "start") -> tuple[End, End]:
    """How the run along a side ends, at its start and at its end, walking anti-clockwise.

    >>> from jobs.planning.outline import rectangle
    >>> ends_of(rectangle(6000, 3000), 0)
    ('seats', 'passes')
    >>> ends_of(rectangle(6000, 3000, ["form", "open", "form", "solid"]), 0)
    ('stops', 'free')
    """
    sides = outline.sides
    following = (side + 1) % len(sides)
    start = _end(sides[side - 1].edge, outline.turn_before(side), seats_at == "start")
    end = _end(sides[following].edge, sides[side].turn, seats_at == "end")
    return start, end


def _end(neighbour: str, turn: float, would_seat: bool) -> End:
    if neighbour == "open":
        return "free"
    if neighbour == "solid" or turn <= 0:
        return "stops"
    if not would_seat:
        return "passes"
    return "seats" if turn == 90 else "stops"


def check_corners(panel: Panel) -> list[Finding]:
    """A finding for each corner between two runs that takes no clamp and no seat."""
    return [
        Finding(
            "skew-corner",
            f"The corner of sides {corner.before + 1} and {corner.after + 1} of panel {panel.mark} turns "
            f"{corner.turn:g} degrees: it takes no corner clamp and no seat, so make it up on site.",
            f"panel {panel.mark}, corner at the start of side {corner.after + 1}",
            "warn",
            panel.mark,
            corner.after,
        )
        for corner in corners_of(panel.outline)
        if corner.joins_runs and not corner.takes_clamp
    ]
