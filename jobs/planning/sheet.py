"""A sheet to draw a plan on: mm of the plan to units of an SVG, and the few marks that drawings share.

Presentation attributes and class names only, so that a page that forbids inline style shows it as it is.
The y of the plan points up, that of an SVG down; `Sheet` turns it over. Sizes of marks are in units of the
sheet, 400 units wide, so that text is legible on a phone and in print whatever the size of the panel.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element, SubElement, tostring

from jobs.planning.geometry import Point, bounds

WIDTH = 400
MARGIN = 40
TALLEST = 640
TEXT = 15
INK = "#1d1c1a"
HATCH = "#b9b2a3"
PAPER = "#ffffff"


@dataclass
class Sheet:
    """An SVG being drawn. `points` are what it must hold, in mm of the plan."""

    points: Iterable[Point]
    title: str
    description: str
    name: str
    root: Element = field(init=False)
    scale: float = field(init=False)

    def __post_init__(self) -> None:
        self._left, bottom, right, self._top = bounds(list(self.points))
        across, up = max(right - self._left, 1.0), max(self._top - bottom, 1.0)
        self.scale = min((WIDTH - 2 * MARGIN) / across, (TALLEST - 2 * MARGIN) / up)
        self._pad = (WIDTH - across * self.scale) / 2
        self.root = Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "viewBox": f"0 0 {WIDTH} {_number(up * self.scale + 2 * MARGIN)}",
                "width": "100%",
                "role": "img",
                "aria-labelledby": f"{self.name}-title {self.name}-desc",
                "class": "panel-drawing",
                "font-family": "system-ui, sans-serif",
                "font-size": str(TEXT),
                "fill": "none",
                "stroke-linecap": "butt",
            },
        )
        SubElement(self.root, "title", {"id": f"{self.name}-title"}).text = self.title
        SubElement(self.root, "desc", {"id": f"{self.name}-desc"}).text = self.description
        self._hatch_pattern()

    def at(self, point: Point) -> Point:
        """Where a point of the plan falls on the sheet."""
        return self._pad + (point[0] - self._left) * self.scale, MARGIN + (self._top - point[1]) * self.scale

    def shape(self, points: Sequence[Point], class_: str, **looks: str) -> None:
        """A closed shape given in mm."""
        placed = " ".join(f"{_number(x)},{_number(y)}" for x, y in map(self.at, points))
        SubElement(self.root, "polygon", {"points": placed, "class": class_, **_dashed(looks)})

    def line(self, a: Point, b: Point, class_: str, **looks: str) -> None:
        """A straight line given in units of the sheet."""
        ends = dict(zip(("x1", "y1", "x2", "y2"), map(_number, (*a, *b)), strict=True))
        SubElement(self.root, "line", {**ends, "class": class_, "stroke": INK, **_dashed(looks)})

    def wedge(self, points: Sequence[Point], class_: str) -> None:
        """A filled shape given in units of the sheet."""
        placed = " ".join(f"{_number(x)},{_number(y)}" for x, y in points)
        SubElement(self.root, "polygon", {"points": placed, "class": class_, "fill": INK})

    def dot(self, centre: Point, class_: str, radius: float = 3.2) -> None:
        """A filled dot given in units of the sheet."""
        x, y = map(_number, centre)
        SubElement(self.root, "circle", {"cx": x, "cy": y, "r": _number(radius), "class": class_, "fill": INK})

    def text(self, at: Point, words: str, class_: str, angle: float = 0.0, bold: bool = False) -> None:
        """Words centred on a place of the sheet, turned by `angle` degrees as a person would turn them.

        A halo of paper keeps them readable across lines.
        """
        x, y = map(_number, at)
        looks = {"x": x, "y": y, "class": class_, "text-anchor": "middle", "dominant-baseline": "central"}
        looks |= {"fill": INK, "stroke": PAPER, "stroke-width": "4", "paint-order": "stroke"}
        if bold:
            looks["font-weight"] = "600"
        if angle:
            looks["transform"] = f"rotate({_number(angle)} {x} {y})"
        SubElement(self.root, "text", looks).text = words

    def done(self) -> str:
        """The drawing as text."""
        return tostring(self.root, encoding="unicode")

    def _hatch_pattern(self) -> None:
        pattern = SubElement(
            SubElement(self.root, "defs"),
            "pattern",
            {
                "id": f"{self.name}-hatch",
                "width": "9",
                "height": "9",
                "patternUnits": "userSpaceOnUse",
                "patternTransform": "rotate(45)",
            },
        )
        line = {"x1": "0", "y1": "0", "x2": "0", "y2": "9", "stroke": HATCH, "stroke-width": "1"}
        SubElement(pattern, "line", line)


def text_width(words: str) -> float:
    """About how wide words are, in units of the sheet: digits and letters of a sans face average 0.56 em."""
    return 0.56 * TEXT * len(words)


def readable_angle(direction: Point) -> float:
    """The turn in degrees, on the sheet, of words along a direction of the plan, never upside down."""
    angle = -math.degrees(math.atan2(direction[1], direction[0]))
    if angle > 90:
        return angle - 180
    return angle + 180 if angle <= -90 else angle


def _dashed(looks: dict[str, str]) -> dict[str, str]:
    return {name.replace("_", "-"): value for name, value in looks.items()}


def _number(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".")
