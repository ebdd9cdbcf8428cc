"""Where an upper panel lies on the one below: an offset from centred and quarter turns, in plan.

The middle of a panel is the middle of the box round its outline. Everything here is given in the axes of
the lower panel, in mm from the start of its first side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from jobs.planning.geometry import (
    Point,
    Ring,
    along,
    dot,
    edges,
    inside,
    minus,
    on_ring,
    outward,
    ray_hits,
    unit,
)
from jobs.planning.outline import Outline
from jobs.planning.panels import Panel


@dataclass(frozen=True, slots=True)
class Placing:
    """Turns a point of the upper panel into the axes of the lower one."""

    quarter_turns: int
    shift: Point

    def point(self, at: Point) -> Point:
        """Where a point of the upper panel lies on the lower one."""
        x, y = turned(at, self.quarter_turns)
        return x + self.shift[0], y + self.shift[1]

    def direction(self, way: Point) -> Point:
        """Which way a direction of the upper panel points on the lower one."""
        return turned(way, self.quarter_turns)


@dataclass(frozen=True, slots=True)
class Below:
    """What lies out from a place on a side of the upper panel: how far to the edge of the lower panel
    (negative: the upper panel overhangs by that), on which of its sides, and how far along that side."""

    step_mm: float
    side: int
    along_mm: float


def turned(at: Point, quarter_turns: int) -> Point:
    """A point turned anti-clockwise about the origin by quarter turns, exactly.

    >>> turned((3, 1), 1), turned((3, 1), 2)
    ((-1.0, 3.0), (-3.0, -1.0))
    """
    dx, dy = unit(90 * quarter_turns)
    return at[0] * dx - at[1] * dy + 0.0, at[0] * dy + at[1] * dx + 0.0


def place(upper: Panel, lower: Panel) -> Placing:
    """How the upper panel lies on the lower one."""
    return place_outline(upper.outline, lower.outline, upper.offset, upper.quarter_turns)


@lru_cache(maxsize=20_000)
def place_outline(upper: Outline, lower: Outline, offset: tuple[int, int], quarter_turns: int) -> Placing:
    """How one shape lies on another, `offset` mm from centred; worked out once for all panels that lie alike."""
    middle_up, middle_low = turned(_middle(upper), quarter_turns), _middle(lower)
    shift = (middle_low[0] + offset[0] - middle_up[0], middle_low[1] + offset[1] - middle_up[1])
    return Placing(quarter_turns % 4, shift)


def placed_ring(upper: Panel, lower: Panel) -> list[Point]:
    """The upper outline in the axes of the lower panel."""
    placing = place(upper, lower)
    return [placing.point(corner) for corner in upper.outline.corners]


def below(at: Point, way: Point, lower: Ring) -> Below | None:
    """The edge of the lower panel out along `way` from a place on it or, where it overhangs, back.

    None where that edge does not face the same way, since a bracket stands flat against it, or where
    there is none on that line.
    """
    found = _below_in_box(at, way, lower)
    if found is not None:
        return found
    covered = inside(at, lower) or on_ring(at, lower)
    way_on = 1 if covered else -1
    ray = (way[0] * way_on, way[1] * way_on)
    met = _faces(at, ray, way, lower)
    if not met:
        return None
    distance, facing, side, along_mm = min(met)
    return Below(way_on * distance, side, along_mm) if -facing > 0.999 else None


def _below_in_box(at: Point, way: Point, lower: Ring) -> Below | None:
    """The answer for a place on a rectangle walked from its lower left, which is nearly every panel; else None.

    From a place on it only one side faces out squarely along an axis.
    """
    if len(lower) != 4:
        return None
    (left, low), (right, lower_y), (right_x, top), (left_x, upper_y) = lower
    if left != left_x or right != right_x or low != lower_y or top != upper_y:
        return None
    x, y = at
    if not (left <= x <= right and low <= y <= top):
        return None
    if way == (0.0, -1.0):
        return Below(y - low, 0, x - left)
    if way == (1.0, 0.0):
        return Below(right - x, 1, y - low)
    if way == (0.0, 1.0):
        return Below(top - y, 2, right - x)
    return Below(x - left, 3, top - y) if way == (-1.0, 0.0) else None


def _faces(at: Point, ray: Point, way: Point, lower: Ring) -> list[tuple[float, float, int, float]]:
    """Edges met that face outward along `way`: how far, minus how squarely, which, how far along it."""
    found: list[tuple[float, float, int, float]] = []
    for side, (a, b) in enumerate(edges(lower)):
        direction = _direction(a, b)
        facing = dot(outward(direction), way)
        distance = ray_hits(at, ray, a, b) if facing > 0.001 else None
        if distance is not None:
            foot = along(at, ray, distance)
            found.append((distance, -facing, side, dot(minus(foot, a), direction)))
    return found


def _direction(a: Point, b: Point) -> Point:
    length = math.dist(a, b)
    return (b[0] - a[0]) / length, (b[1] - a[1]) / length


def _middle(outline: Outline) -> Point:
    left, bottom, right, top = outline.box
    return (left + right) / 2, (bottom + top) / 2
