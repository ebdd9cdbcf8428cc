"""Where the words of a drawing go, so that they do not stand on one another.

Each label has places in order of liking; it takes the first that is free, else the one that overlaps least.
Boxes are upright, in units of the sheet: left, top, right, bottom.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from jobs.planning.geometry import Point

Box = tuple[float, float, float, float]
GAP = 1.5


@dataclass(frozen=True, slots=True)
class Place:
    """A centre and the turn of the words there, in degrees."""

    at: Point
    angle: float = 0.0


@dataclass
class Labels:
    """What is taken on a sheet."""

    taken: list[Box] = field(default_factory=list)

    def take(self, box: Box) -> None:
        """Mark a box as taken."""
        self.taken.append(box)

    def choose(self, places: Sequence[Place], width: float, height: float) -> Place:
        """The best of the places for words of that size; its box is then taken."""
        best = self.free(places, width, height) or min(
            places, key=lambda place: self.overlap(box_of(place, width, height))
        )
        self.take(box_of(best, width, height))
        return best

    def free(self, places: Sequence[Place], width: float, height: float) -> Place | None:
        """The first place where nothing is taken, or None."""
        for place in places:
            box = box_of(place, width, height)
            if not any(_shared(box, other) for other in self.taken):
                return place
        return None

    def overlap(self, box: Box) -> float:
        """How much of a box is taken, in square units."""
        return sum(_shared(box, other) for other in self.taken)


def box_of(place: Place, width: float, height: float) -> Box:
    """The upright box round words of that size.

    >>> box_of(Place((50, 50), 90), 40, 10)
    (45.0, 30.0, 55.0, 70.0)
    """
    turn = math.radians(place.angle)
    across = abs(width * math.cos(turn)) + abs(height * math.sin(turn))
    down = abs(width * math.sin(turn)) + abs(height * math.cos(turn))
    x, y = place.at
    box = (x - across / 2, y - down / 2, x + across / 2, y + down / 2)
    return tuple(round(value, 3) for value in box)  # type: ignore[return-value]


def box_round(points: Iterable[Point]) -> Box:
    """The upright box round points of the sheet."""
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _shared(a: Box, b: Box) -> float:
    across = min(a[2], b[2]) - max(a[0], b[0]) + GAP
    down = min(a[3], b[3]) - max(a[1], b[1]) + GAP
    return max(0.0, across) * max(0.0, down)
