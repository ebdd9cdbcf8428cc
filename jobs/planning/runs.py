"""The runs of a panel: one along each side that needs a form, with the bounds its pieces must keep.

The pieces of a run that passes or is free total at least side + corner allowance and at most that + the
greatest overrun. A run that neither passes nor is free is closed: its pieces total at most the side, and
what they lack is filler, up to the filler allowed. Lengths in whole mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from jobs.planning.corners import End, ends_of
from jobs.planning.geometry import edges, ray_hits
from jobs.planning.outline import Outline
from jobs.planning.panels import Hand, Panel
from jobs.planning.reckoning import Reckoning

# A side, its length and ends, and the bounds of its run with where it begins.
_Shaped = tuple[int, tuple[int, End, End], tuple[int, int, int]]


@dataclass(frozen=True, slots=True)
class RunRules:
    """How far runs may reach, all in mm, set per job: what the clear space beside the stacks leaves.

    `corner_allowance_mm` is what a run needs beyond the corner it passes, `max_overrun_mm` what it may
    have beyond that, `filler_mm` the most that is made up beside a closed run.
    `form_width_mm`, how far a form stands out from the face, shortens one of the two runs that meet at an
    inside corner, since both cannot fill the same space: common practice, no source; 0 leaves it to the filler.
    """

    corner_allowance_mm: int = 0
    max_overrun_mm: int = 1000
    filler_mm: int = 100
    form_width_mm: int = 60


@dataclass(frozen=True, slots=True)
class PanelRun:
    """One run. `side` counts from 0; `start` and `end` say how it ends, walking anti-clockwise.

    `length_mm` is what is to be formed, `corner_allowance_mm` and `max_overrun_mm` bound its pieces:
    length + allowance <= total <= length + allowance + overrun. `starts_mm` is where it begins on its side.
    """

    panel: str
    side: int
    section_mm: int
    length_mm: int
    start: End
    end: End
    corner_allowance_mm: int
    max_overrun_mm: int
    starts_mm: int = 0

    @property
    def key(self) -> str:
        """Names the run in its job: the panel's mark and the number of the side, such as "A3/2"."""
        return f"{self.panel}/{self.side + 1}"

    @property
    def seats(self) -> int:
        """How many of its ends seat: 0, 1 or 2."""
        return (self.start == "seats") + (self.end == "seats")

    @property
    def closed(self) -> bool:
        """Neither end passes or is free, so that the pieces may not be longer than the side."""
        return not {self.start, self.end} & {"passes", "free"}

    @property
    def least_mm(self) -> int:
        """The least that its pieces may total."""
        return self.length_mm + self.corner_allowance_mm

    @property
    def greatest_mm(self) -> int:
        """The most that its pieces may total."""
        return self.least_mm + self.max_overrun_mm

    @property
    def laid_from(self) -> str:
        """The end its pieces are laid from: where it seats, else where it stops, else where it is free."""
        for held in ("seats", "stops", "free"):
            if self.start == held:
                return "start"
            if self.end == held:
                return "end"
        return "start"

    @property
    def reckoning(self) -> Reckoning:
        """How places along it are told to people: from the end its pieces are laid from."""
        held = self.start if self.laid_from == "start" else self.end
        return Reckoning(self.length_mm, self.laid_from == "end", held)


def runs_of(panel: Panel, rules: RunRules) -> tuple[PanelRun, ...]:
    """The runs of a panel, in the order of its sides."""
    return tuple(
        PanelRun(panel.mark, side, panel.section_mm, *ends, *bounds)
        for side, ends, bounds in _shaped(panel.outline, panel.seats_at, rules)
    )


def runs_of_all(panels: Iterable[Panel], rules: RunRules) -> tuple[PanelRun, ...]:
    """The runs of many panels, in order."""
    return tuple(run for panel in panels for run in runs_of(panel, rules))


def closed_runs_of_all(panels: Iterable[Panel], rules: RunRules) -> Iterator[PanelRun]:
    """Those runs of many panels that are closed, in order; panels of a shape without one cost next to nothing."""
    for panel in panels:
        if _has_closed(panel.outline, panel.seats_at, rules):
            yield from (run for run in runs_of(panel, rules) if run.closed)


@lru_cache(maxsize=4096)
def _has_closed(outline: Outline, seats_at: Hand, rules: RunRules) -> bool:
    return any(not {start, end} & {"passes", "free"} for _, (_, start, end), _ in _shaped(outline, seats_at, rules))


@lru_cache(maxsize=4096)
def _shaped(outline: Outline, seats_at: Hand, rules: RunRules) -> tuple[_Shaped, ...]:
    """What the runs of every panel of one shape have in common, for each side that needs a form."""
    return tuple(
        _side(outline, seats_at, side, rules) for side, each in enumerate(outline.sides) if each.edge == "form"
    )


def _side(outline: Outline, seats_at: Hand, side: int, rules: RunRules) -> _Shaped:
    start, end = ends_of(outline, side, seats_at)
    lost = _lost_to_the_other_form(outline, side, rules.form_width_mm)
    length = outline.sides[side].length_mm - lost
    allowance, overrun = _bounds(outline, side, start, end, rules)
    overrun = min(overrun, length) if allowance < 0 else overrun
    return side, (length, start, end), (max(allowance, -length), overrun, lost)


def _bounds(outline: Outline, side: int, start: End, end: End, rules: RunRules) -> tuple[int, int]:
    """Corner allowance and greatest overrun: a closed run has minus the filler, and the filler."""
    ends = {start, end}
    if not ends & {"passes", "free"}:
        return -rules.filler_mm, rules.filler_mm
    allowance = rules.corner_allowance_mm if "passes" in ends else 0
    clear = _clear_beyond(outline, side, start, end)
    return allowance, int(min(rules.max_overrun_mm, max(0.0, clear - allowance)))


def _lost_to_the_other_form(outline: Outline, side: int, form_width_mm: int) -> int:
    """The run that starts at an inside corner begins where the form of the run before it ends."""
    sides = outline.sides
    inside_corner = outline.turn_before(side) == -90 and sides[side - 1].edge == "form"
    return min(form_width_mm, sides[side].length_mm - 1) if inside_corner else 0


def _clear_beyond(outline: Outline, side: int, start: End, end: End) -> float:
    """How far the run can go on, past whichever of its ends is not held, before it meets its own panel."""
    ways = [(start, -1), (end, 1)]
    clear = [_clear_at(outline, side, way) for kind, way in ways if kind in ("passes", "free")]
    return max(clear)


def _clear_at(shape: Outline, side: int, way: int) -> float:
    begin = shape.point_on(side, shape.sides[side].length_mm if way > 0 else 0)
    dx, dy = shape.directions[side]
    neighbour = (side + way) % len(shape.sides)
    hits = [
        ray_hits(begin, (dx * way, dy * way), a, b)
        for index, (a, b) in enumerate(edges(shape.corners))
        if index not in (side, neighbour)
    ]
    return min((hit for hit in hits if hit is not None and hit > 0), default=math.inf)
