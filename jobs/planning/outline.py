"""The outline of a panel: its sides in order, each with a length, a turn at its end, and what stands there.

Walk round the panel anti-clockwise, as seen from above, with the concrete on the left. Each side has a
length in whole mm, measured along the face line (so the chamfer needs no allowance), and the turn in
degrees at its end: 90 at an ordinary outside corner, -90 at an inside corner. The walk must come back
to its start within 5 mm. A side may need no form: "open" (nothing there) or against something "solid".

>>> panel = rectangle(6000, 3000)
>>> panel.perimeter_mm, panel.area_mm2, panel.is_rectangle
(18000, 18000000.0, True)
>>> outline([Side(6000), Side(3000), Side(6000), Side(2900)])
Traceback (most recent call last):
jobs.errors.Refused: The outline does not close: it ends 100 mm from where it began. Check lengths and turns.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from jobs.errors import Refused
from jobs.planning.geometry import Point, area, bounds, edges, inside, outward, segments_meet, unit

Edge = Literal["form", "open", "solid"]
EDGES: tuple[Edge, ...] = ("form", "open", "solid")

CLOSES_WITHIN_MM = 5
TURNS_WITHIN_DEGREES = 0.5
GREATEST_SIDE_MM = 100_000


@dataclass(frozen=True, slots=True)
class Side:
    """One straight side: length in mm, the turn in degrees at its end, and whether it needs a form."""

    length_mm: int
    turn: float = 90.0
    edge: Edge = "form"


@dataclass(frozen=True)
class Outline:
    """A closed outline. Make one with `outline` or `rectangle`, which refuse what does not close."""

    sides: tuple[Side, ...]

    @cached_property
    def directions(self) -> tuple[Point, ...]:
        """The unit vector of each side. The first runs along x."""
        heading, found = 0.0, []
        for side in self.sides:
            found.append(unit(heading))
            heading += side.turn
        return tuple(found)

    @cached_property
    def corners(self) -> tuple[Point, ...]:
        """Where each side starts, in mm from the start of the first."""
        x, y, found = 0.0, 0.0, []
        for side, (dx, dy) in zip(self.sides, self.directions, strict=True):
            found.append((x, y))
            x, y = x + side.length_mm * dx, y + side.length_mm * dy
        return tuple(found)

    @cached_property
    def area_mm2(self) -> float:
        """The area enclosed, openings not deducted."""
        return area(self.corners)

    @cached_property
    def perimeter_mm(self) -> int:
        """All sides, whether they need a form or not."""
        return sum(side.length_mm for side in self.sides)

    @cached_property
    def box(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y."""
        return bounds(self.corners)

    @property
    def width_mm(self) -> float:
        """How far the outline reaches along its first side."""
        return self.box[2] - self.box[0]

    @property
    def height_mm(self) -> float:
        """How far the outline reaches across its first side."""
        return self.box[3] - self.box[1]

    @property
    def is_rectangle(self) -> bool:
        """Four sides and four outside corners of 90 degrees."""
        return len(self.sides) == 4 and all(side.turn == 90 for side in self.sides)

    def turn_before(self, side: int) -> float:
        """The turn in degrees at the start of a side: the one at the end of the side before it."""
        return self.sides[side - 1].turn

    def point_on(self, side: int, mm: float) -> Point:
        """The point `mm` along a side from its start (also before it or beyond it)."""
        (x, y), (dx, dy) = self.corners[side], self.directions[side]
        return x + dx * mm, y + dy * mm

    def outward(self, side: int) -> Point:
        """The unit vector that points away from the concrete at a side."""
        return outward(self.directions[side])

    def contains(self, point: Point) -> bool:
        """Whether a point lies inside."""
        return inside(point, self.corners)


def rectangle(width_mm: int, height_mm: int, edges: Sequence[Edge] = ("form",) * 4) -> Outline:
    """A rectangle: `edges` in order bottom, right, top, left.

    >>> rectangle(9000, 6000, ["form", "form", "open", "form"]).sides[2]
    Side(length_mm=9000, turn=90.0, edge='open')
    """
    lengths = (width_mm, height_mm, width_mm, height_mm)
    return outline([Side(mm, 90.0, edge) for mm, edge in zip(lengths, edges, strict=True)])


def outline(sides: Sequence[Side]) -> Outline:
    """An outline that is known to close, not to cross itself, and to be walked the right way round.

    Raises Refused with a sentence that says what to change; codes: "few-sides", "side-length",
    "turn", "edge", "closing", "clockwise", "crossing", "straight".
    """
    _refuse_bad_sides(sides)
    _refuse_wrong_turning(sides)
    shape = Outline(tuple(sides))
    _refuse_gap(shape)
    _refuse_crossing(shape)
    _refuse_split_sides(shape)
    return shape


def _refuse_bad_sides(sides: Sequence[Side]) -> None:
    if len(sides) < 3:
        raise Refused("few-sides", f"An outline needs at least 3 sides; this one has {len(sides)}.")
    for number, side in enumerate(sides, start=1):
        if not 0 < side.length_mm <= GREATEST_SIDE_MM:
            raise Refused(
                "side-length",
                f"Side {number} is {side.length_mm} mm long: give a length from 1 to {GREATEST_SIDE_MM} mm.",
            )
        if not -180 < side.turn < 180:
            raise Refused("turn", f"Side {number} turns {side.turn:g} degrees: give a turn between -180 and 180.")
        if side.edge not in EDGES:
            raise Refused("edge", f"Side {number} is marked {side.edge!r}: mark it form, open or solid.")


def _refuse_wrong_turning(sides: Sequence[Side]) -> None:
    total = sum(side.turn for side in sides)
    if abs(total + 360) <= TURNS_WITHIN_DEGREES:
        raise Refused(
            "clockwise",
            "The outline is walked clockwise. Give outside corners positive turns, inside ones negative.",
        )
    if abs(total - 360) > TURNS_WITHIN_DEGREES:
        raise Refused(
            "turn",
            f"The turns add up to {total:g} degrees; once round a panel is 360. Check the turn at each "
            "corner: 90 outside, -90 inside.",
        )


def _refuse_gap(shape: Outline) -> None:
    gap = math.dist(shape.corners[0], shape.point_on(-1, shape.sides[-1].length_mm))
    if gap > CLOSES_WITHIN_MM:
        raise Refused(
            "closing",
            f"The outline does not close: it ends {gap:.0f} mm from where it began. Check lengths and turns.",
        )


def _refuse_crossing(shape: Outline) -> None:
    pieces = edges(shape.corners)
    for first in range(len(pieces)):
        for second in range(first + 2, len(pieces)):
            if first == 0 and second == len(pieces) - 1:
                continue
            if segments_meet(*pieces[first], *pieces[second]):
                raise Refused(
                    "crossing",
                    f"Sides {first + 1} and {second + 1} cross or touch. Sides may only meet at corners.",
                )


def _refuse_split_sides(shape: Outline) -> None:
    for index, side in enumerate(shape.sides):
        following = (index + 1) % len(shape.sides)
        if side.turn == 0 and side.edge == shape.sides[following].edge:
            raise Refused(
                "straight",
                f"Sides {index + 1} and {following + 1} are in one line, both {side.edge}: make them one.",
            )
