"""Points, segments and rings in the plane. Lengths in mm as floats, since turned sides end between whole mm.

Rings are lists of corners, walked anti-clockwise, the last joined to the first. Textbook plane geometry:
the shoelace formula, orientation by cross product, point in polygon by crossings.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

Point = tuple[float, float]
Ring = Sequence[Point]

TOUCH_MM = 0.5


def minus(a: Point, b: Point) -> Point:
    """The vector from `b` to `a`."""
    return a[0] - b[0], a[1] - b[1]


def along(start: Point, direction: Point, distance: float) -> Point:
    """The point `distance` from `start` along `direction`."""
    return start[0] + direction[0] * distance, start[1] + direction[1] * distance


def dot(a: Point, b: Point) -> float:
    """The scalar product."""
    return a[0] * b[0] + a[1] * b[1]


def cross(a: Point, b: Point) -> float:
    """The z of the vector product: positive when `b` lies to the left of `a`."""
    return a[0] * b[1] - a[1] * b[0]


def unit(degrees: float) -> Point:
    """The unit vector at an angle; exact at quarter turns, so that square panels stay square.

    >>> unit(90), unit(-450)
    ((0.0, 1.0), (0.0, -1.0))
    """
    quarter, rest = divmod(degrees, 90)
    if rest == 0:
        return [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)][int(quarter) % 4]
    return math.cos(math.radians(degrees)), math.sin(math.radians(degrees))


def outward(direction: Point) -> Point:
    """The normal that points out of a ring walked anti-clockwise in `direction`: to its right."""
    return direction[1], -direction[0]


def area(ring: Ring) -> float:
    """Enclosed area in mm2 by the shoelace formula; negative when the ring is walked clockwise.

    >>> area([(0, 0), (2000, 0), (2000, 1000), (0, 1000)])
    2000000.0
    """
    return sum(cross(a, b) for a, b in edges(ring)) / 2


def edges(ring: Ring) -> list[tuple[Point, Point]]:
    """Each side of the ring as its two ends, in order."""
    return [(ring[i], ring[(i + 1) % len(ring)]) for i in range(len(ring))]


def bounds(ring: Ring) -> tuple[float, float, float, float]:
    """Least x, least y, greatest x, greatest y."""
    xs, ys = [p[0] for p in ring], [p[1] for p in ring]
    return min(xs), min(ys), max(xs), max(ys)


def distance_to_segment(point: Point, a: Point, b: Point) -> float:
    """How far `point` is from the nearest point of the segment from `a` to `b`."""
    side = minus(b, a)
    length2 = dot(side, side)
    share = 0.0 if length2 == 0 else max(0.0, min(1.0, dot(minus(point, a), side) / length2))
    return math.dist(point, along(a, side, share))


def on_ring(point: Point, ring: Ring, tolerance: float = TOUCH_MM) -> bool:
    """Whether `point` lies on the ring, within `tolerance` mm."""
    return any(distance_to_segment(point, a, b) <= tolerance for a, b in edges(ring))


def inside(point: Point, ring: Ring) -> bool:
    """Whether `point` lies within the ring. On the ring itself the answer is either: ask `on_ring` first."""
    x, y = point
    odd = False
    for (ax, ay), (bx, by) in edges(ring):
        if (ay > y) != (by > y) and x < ax + (y - ay) * (bx - ax) / (by - ay):
            odd = not odd
    return odd


def segments_meet(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether two segments cross or come within half a millimetre of each other."""
    if _straddles(a, b, c, d) and _straddles(c, d, a, b):
        return True
    ends = [(a, c, d), (b, c, d), (c, a, b), (d, a, b)]
    return any(distance_to_segment(point, start, end) <= TOUCH_MM for point, start, end in ends)


def _straddles(a: Point, b: Point, c: Point, d: Point) -> bool:
    side = minus(b, a)
    return cross(side, minus(c, a)) * cross(side, minus(d, a)) < 0


def ray_hits(start: Point, direction: Point, a: Point, b: Point) -> float | None:
    """How far along a ray, whose direction is a unit vector, it first meets a segment; None if it does not.

    A segment that lies along the ray is met at its nearer end.
    """
    side, away = minus(b, a), minus(a, start)
    across = cross(direction, side)
    if abs(across) < 1e-9 * max(1.0, math.dist(a, b)):
        if abs(cross(away, direction)) > TOUCH_MM:
            return None
        ahead = [t for t in (dot(away, direction), dot(minus(b, start), direction)) if t >= -TOUCH_MM]
        return max(0.0, min(ahead)) if ahead else None
    distance, share = cross(away, side) / across, cross(away, direction) / across
    slack = TOUCH_MM / max(1.0, math.dist(a, b))
    met = distance >= -TOUCH_MM and -slack <= share <= 1 + slack
    return max(0.0, distance) if met else None
