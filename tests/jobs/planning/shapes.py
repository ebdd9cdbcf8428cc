"""Outlines and panels for the tests of the take-off: a few named ones, and strategies for many."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import strategies as st

from jobs.planning.outline import Outline, Side, outline, rectangle
from jobs.planning.panels import Panel

L_SHAPE = "6000 2000 3000@-90 1000 3000 3000"
U_SHAPE = "6000 4000 1500 2500@-90 3000@-90 2500 1500 4000"
RIGHT_TRIANGLE = "4000 3000@126.869898 5000@143.130102"


def panel(mark="A1", width=6000, height=3000, thickness=150, **more) -> Panel:
    return Panel(mark, more.pop("outline", None) or rectangle(width, height), thickness, **more)


def outline_through(points) -> Outline:
    """The outline of a ring of square corners, given anti-clockwise, the first side along x."""
    ring = [*points, points[0], points[1]]
    ways = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(ring)]
    sides = []
    for (dx, dy), (nx, ny) in pairwise(ways):
        sides.append(Side(abs(dx) + abs(dy), 90.0 if dx * ny - dy * nx > 0 else -90.0))
    return outline(sides)


@st.composite
def square_cornered(draw):
    """An outline of square corners inside and outside, with its area: columns side by side on one level,
    each rising and falling by its own amount, so that the area is the sum of rectangles."""
    count = draw(st.integers(1, 5))
    step = st.integers(1, 30).map(lambda n: n * 100)
    widths = [draw(step) for _ in range(count)]
    tops = _unlike_neighbours(draw, count, step)
    bottoms = _unlike_neighbours(draw, count, step)
    xs = [sum(widths[:at]) for at in range(count + 1)]
    low = [p for at in range(count) for p in ((xs[at], -bottoms[at]), (xs[at + 1], -bottoms[at]))]
    high = [p for at in reversed(range(count)) for p in ((xs[at + 1], tops[at]), (xs[at], tops[at]))]
    area = sum(w * (t + b) for w, t, b in zip(widths, tops, bottoms, strict=True))
    return outline_through([*low, *high]), area


def _unlike_neighbours(draw, count, step):
    """Neighbours differ, or their tops would be one side."""
    found = []
    for _ in range(count):
        found.append(draw(step.filter(lambda mm: not found or mm != found[-1])))
    return found
