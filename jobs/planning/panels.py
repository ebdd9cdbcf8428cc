"""A panel as the take-off sees it: outline, thickness, openings, and its place in a stack and a pour.

Mass is area less openings, times thickness, times density: 2400 kg/m3 unless the mix says otherwise.
It is for planning and for cautions; lifting needs the engineer's figure.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from jobs.planning.findings import Finding
from jobs.planning.geometry import TOUCH_MM, Point, bounds, edges, inside, on_ring, segments_meet
from jobs.planning.outline import Outline

CONCRETE_KG_PER_M3 = 2400

Hand = Literal["start", "end"]


@dataclass(frozen=True, slots=True)
class Opening:
    """A rectangle left out of the concrete, in mm: lower left corner from the start of side 1, and size."""

    x_mm: int
    y_mm: int
    width_mm: int
    height_mm: int

    @property
    def corners(self) -> list[Point]:
        """Its corners, anti-clockwise from the lower left."""
        x, y, right, top = self.x_mm, self.y_mm, self.x_mm + self.width_mm, self.y_mm + self.height_mm
        return [(x, y), (right, y), (right, top), (x, top)]

    @property
    def area_mm2(self) -> int:
        """Its area."""
        return self.width_mm * self.height_mm


@dataclass(frozen=True)
class Panel:
    """One panel to cast. `mark` is unique in the job, `pour` names the pour it is cast in.

    `section_mm` is the height of the edge forms: the thickness unless given. `offset` moves its middle
    from the middle of the panel below, in mm along the axes of that panel, and `quarter_turns` (0 to 3)
    turns it anti-clockwise on it. `seats_at` is the end at which every run of this panel seats, walking
    anti-clockwise: all corners of a panel turn the same way.
    """

    mark: str
    outline: Outline
    thickness_mm: int
    stack: str = ""
    level: int = 1
    pour: str = ""
    section_given_mm: int | None = None
    offset: tuple[int, int] = (0, 0)
    quarter_turns: int = 0
    openings: tuple[Opening, ...] = ()
    seats_at: Hand = "start"

    @property
    def section_mm(self) -> int:
        """The section of edge form that its sides need."""
        return self.section_given_mm or self.thickness_mm

    @property
    def concrete_mm2(self) -> float:
        """Area of the face, openings deducted."""
        return self.outline.area_mm2 - sum(opening.area_mm2 for opening in self.openings)

    def mass_kg(self, density_kg_m3: float = CONCRETE_KG_PER_M3) -> float:
        """Mass of the concrete in kg.

        >>> from jobs.planning.outline import rectangle
        >>> Panel("A1", rectangle(6000, 9000), 150).mass_kg()
        19440.0
        """
        return self.concrete_mm2 * self.thickness_mm * density_kg_m3 / 1e9

    @property
    def stack_name(self) -> str:
        """Its stack; a panel that names none lies alone, in a stack of its own."""
        return self.stack or self.mark


def check_openings(panel: Panel) -> list[Finding]:
    """A finding for each opening that leaves the panel or overlaps another. An edge may be touched."""
    found = []
    for number, opening in enumerate(panel.openings, start=1):
        if not _lies_in(opening, panel.outline):
            found.append(_bad_opening(panel, number, "reaches outside the panel: check its place and its size"))
        for other, second in enumerate(panel.openings[: number - 1], start=1):
            if _overlap(opening, second):
                found.append(_bad_opening(panel, number, f"overlaps opening {other}: give them as one or move one"))
    return found


def _bad_opening(panel: Panel, number: int, what: str) -> Finding:
    where = f"panel {panel.mark}, opening {number}"
    return Finding("opening", f"Opening {number} of panel {panel.mark} {what}.", where, "refuse", panel.mark)


def _lies_in(opening: Opening, outline: Outline) -> bool:
    ring = outline.corners
    if not all(on_ring(corner, ring) or inside(corner, ring) for corner in opening.corners):
        return False
    return not any(_strictly_in(corner, opening) for corner in ring) and not _crosses(opening, ring)


def _crosses(opening: Opening, ring: Sequence[Point]) -> bool:
    x, y, right, top = bounds(opening.corners)
    inner = [(x + 1, y + 1), (right - 1, y + 1), (right - 1, top - 1), (x + 1, top - 1)]
    return any(segments_meet(a, b, c, d) for a, b in edges(inner) for c, d in edges(ring))


def _strictly_in(point: Point, opening: Opening) -> bool:
    x, y = point
    low, high = opening.corners[0], opening.corners[2]
    return low[0] + TOUCH_MM < x < high[0] - TOUCH_MM and low[1] + TOUCH_MM < y < high[1] - TOUCH_MM


def _overlap(first: Opening, second: Opening) -> bool:
    (ax, ay), (ar, at) = first.corners[0], first.corners[2]
    (bx, by), (br, bt) = second.corners[0], second.corners[2]
    return ax < br and bx < ar and ay < bt and by < at


def repeated_marks(panels: Sequence[Panel]) -> list[Finding]:
    """A finding for each mark that more than one panel carries."""
    counts = Counter(panel.mark for panel in panels)
    return [_repeated(mark) for mark, times in counts.items() if times > 1]


def _repeated(mark: str) -> Finding:
    sentence = f"Mark {mark} stands for more than one panel: give each its own."
    return Finding("mark", sentence, f"panel {mark}", "refuse", mark)
