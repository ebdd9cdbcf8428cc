"""A panel drawn to scale, in plan, with its runs: an SVG.

The panel is a light hatch, forms are double lines outside it, a joint is a tick, a seat a small wedge,
overrun is dashed, brackets are dots, the panel below is a thin outline. Lengths along the runs are to scale;
how far the forms stand out is not, so that they can be seen. Before runs are composed their greatest overrun
is dashed; afterwards what the pieces really have.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from jobs.planning.findings import metres
from jobs.planning.geometry import Point, along
from jobs.planning.labels import Labels, Place, box_round
from jobs.planning.laying import LaidRun
from jobs.planning.panels import Panel
from jobs.planning.placing import place, turned
from jobs.planning.runs import PanelRun
from jobs.planning.sheet import INK, PAPER, TEXT, Sheet, readable_angle, text_width
from jobs.planning.takeoff import PanelTakeoff

BAND = 8.0
BRACKET_OUT = BAND + 5.5
LABEL_OUT = BAND + 20.0
LABEL_IN = 15.0
TICK = 5.0


@dataclass(frozen=True, slots=True)
class _Strip:
    """One run on the sheet: where its line starts, and its way and its way out in sheet units per mm and unit."""

    sheet: Sheet
    start: Point
    way: Point
    out: Point

    def at(self, mm: float, out: float = 0.0) -> Point:
        """The place `mm` along the run and `out` units away from the panel."""
        return along(along(self.start, self.way, mm * self.sheet.scale), self.out, out)


def draw_panel(item: PanelTakeoff, lower: Panel | None = None, name: str = "panel") -> str:
    """The drawing of a panel with its runs. `lower` is the panel below, `name` unique on the page.

    `name` goes into ids, so letters, digits and dashes only.
    """
    panel = item.panel
    sheet = Sheet(_extent(item, lower), f"Panel {panel.mark} in plan", describe(item), name)
    if lower is not None:
        sheet.shape(_lower_ring(panel, lower), "below", stroke=INK, stroke_width="0.8", stroke_dasharray="8 2 2 2")
    sheet.shape(panel.outline.corners, "concrete", fill=PAPER)
    sheet.shape(panel.outline.corners, "concrete-hatch", fill=f"url(#{name}-hatch)")
    _draw_openings(sheet, panel)
    _draw_bare_sides(sheet, item)
    for run in item.runs:
        _draw_run(sheet, panel, run, item.laid.get(run.key), item.brackets.get(run.key, ()))
    _draw_labels(sheet, item)
    return sheet.done()


def describe(item: PanelTakeoff) -> str:
    """The same in words, for who cannot see the drawing."""
    panel = item.panel
    parts = [
        f"{panel.thickness_mm} mm thick, {panel.mass_kg() / 1000:.2f} t of concrete, level {panel.level}.",
    ]
    parts += [_describe_run(run, item.laid.get(run.key), item.brackets.get(run.key, ())) for run in item.runs]
    with_run = {run.side for run in item.runs}
    for index, side in enumerate(panel.outline.sides):
        if index not in with_run:
            words = {"open": "open", "solid": "against something solid", "form": "made up on site"}[side.edge]
            parts.append(f"Side {index + 1}, {metres(side.length_mm)}: {words}.")
    return " ".join(parts)


def _describe_run(run: PanelRun, laid: LaidRun | None, brackets: Iterable[int]) -> str:
    words = f"Side {run.side + 1}, {metres(run.length_mm)}: {run.start} at its start, {run.end} at its end"
    if laid is not None:
        pieces = " + ".join(metres(end - start) for start, end in laid.from_seat)
        beyond = "overrun" if laid.over_mm >= 0 else "filler"
        words += f", pieces {pieces} from {run.reckoning.origin}, {beyond} {metres(abs(laid.over_mm))}"
    count = len(list(brackets))
    return words + (f", {count} brackets." if count else ".")


def _extent(item: PanelTakeoff, lower: Panel | None) -> list[Point]:
    shape = item.panel.outline
    points = list(shape.corners)
    for run in item.runs:
        first, last = _reach(run, item.laid.get(run.key))
        points += [shape.point_on(run.side, run.starts_mm + mm) for mm in (first, last)]
    return points + (_lower_ring(item.panel, lower) if lower is not None else [])


def _reach(run: PanelRun, laid: LaidRun | None) -> tuple[int, int]:
    """From where to where forms stand along a run, or may stand while its pieces are unknown."""
    if laid is not None:
        return min(0, laid.pieces[0][0]), max(run.length_mm, laid.pieces[-1][1])
    if run.closed:
        return 0, run.length_mm
    beyond = run.greatest_mm - run.length_mm
    return (-beyond, run.length_mm) if run.laid_from == "end" else (0, run.length_mm + beyond)


def _lower_ring(panel: Panel, lower: Panel) -> list[Point]:
    """The outline of the panel below, in the axes of this one."""
    placing = place(panel, lower)
    return [
        turned((x - placing.shift[0], y - placing.shift[1]), -placing.quarter_turns) for x, y in lower.outline.corners
    ]


def _strip(sheet: Sheet, panel: Panel, side: int, starts_mm: int = 0) -> _Strip:
    (dx, dy), (ox, oy) = panel.outline.directions[side], panel.outline.outward(side)
    return _Strip(sheet, sheet.at(panel.outline.point_on(side, starts_mm)), (dx, -dy), (ox, -oy))


def _draw_openings(sheet: Sheet, panel: Panel) -> None:
    for opening in panel.openings:
        a, b, c, d = opening.corners
        sheet.shape([a, b, c, d], "opening", fill=PAPER, stroke=INK, stroke_width="1")
        for start, end in ((a, c), (b, d)):
            sheet.line(sheet.at(start), sheet.at(end), "opening", stroke_width="0.6")


def _draw_bare_sides(sheet: Sheet, item: PanelTakeoff) -> None:
    with_run = {run.side for run in item.runs}
    for index, side in enumerate(item.panel.outline.sides):
        strip = _strip(sheet, item.panel, index)
        ends = strip.at(0), strip.at(side.length_mm)
        if side.edge == "open":
            sheet.line(*ends, "open-side", stroke_width="1.2", stroke_dasharray="1 4", stroke_linecap="round")
        elif side.edge == "solid":
            sheet.line(*ends, "solid-side", stroke_width="2.5")
            _draw_ground(strip, side.length_mm)
        elif index not in with_run:
            sheet.line(*ends, "site-made", stroke_width="2", stroke_dasharray="10 4")


def _draw_ground(strip: _Strip, length_mm: int) -> None:
    """Short slanting strokes behind a side that is against something solid."""
    step = 9 / strip.sheet.scale
    for count in range(int(length_mm / step)):
        foot = strip.at((count + 1) * step)
        head = strip.at((count + 0.3) * step, 7)
        strip.sheet.line(foot, head, "solid-side", stroke_width="0.8")


def _draw_run(sheet: Sheet, panel: Panel, run: PanelRun, laid: LaidRun | None, brackets: Iterable[int]) -> None:
    strip = _strip(sheet, panel, run.side, run.starts_mm)
    first, last = _reach(run, laid)
    _draw_band(strip, max(first, 0), min(last, run.length_mm), True)
    for start, end in ((first, 0), (run.length_mm, last)):
        if start < end:
            _draw_band(strip, start, end, False)
    _draw_seats(strip, run)
    for joint in laid.joints if laid else ():
        sheet.line(strip.at(joint, -TICK / 2), strip.at(joint, BAND + TICK), "joint", stroke_width="2")
    for mm in brackets:
        sheet.dot(strip.at(mm, BRACKET_OUT), "bracket")


def _draw_band(strip: _Strip, start: float, end: float, solid: bool) -> None:
    looks = {"stroke_width": "1.6"} if solid else {"stroke_width": "1.2", "stroke_dasharray": "5 4"}
    kind = "edge-form" if solid else "overrun"
    strip.sheet.line(strip.at(start), strip.at(end), kind, **looks)
    strip.sheet.line(strip.at(start, BAND), strip.at(end, BAND), kind, **looks)
    for mm in (start, end):
        strip.sheet.line(strip.at(mm), strip.at(mm, BAND), kind, **looks)


def _draw_seats(strip: _Strip, run: PanelRun) -> None:
    size = BAND * 1.4 / strip.sheet.scale
    if run.start == "seats":
        strip.sheet.wedge([strip.at(0), strip.at(0, BAND), strip.at(size)], "seat")
    if run.end == "seats":
        end = run.length_mm
        strip.sheet.wedge([strip.at(end), strip.at(end, BAND), strip.at(end - size)], "seat")


def _draw_labels(sheet: Sheet, item: PanelTakeoff) -> None:
    labels, panel = Labels(), item.panel
    for opening in panel.openings:
        labels.take(box_round(sheet.at(corner) for corner in opening.corners))
    for run in item.runs:
        strip = _strip(sheet, panel, run.side, run.starts_mm)
        _take_run(labels, strip, run, item.laid.get(run.key))
    for run in item.runs:
        if run.key in item.laid:
            strip = _strip(sheet, panel, run.side, run.starts_mm)
            _label_pieces(labels, strip, panel.outline.directions[run.side], item.laid[run.key])
    _label_sides(labels, sheet, panel)
    _label_middle(labels, sheet, panel)


def _take_run(labels: Labels, strip: _Strip, run: PanelRun, laid: LaidRun | None) -> None:
    """Keep words off the forms and the brackets; a slanting run is taken as short upright boxes."""
    first, last = _reach(run, laid)
    cuts = [first + (last - first) * share / 12 for share in range(13)]
    for a, b in pairwise(cuts):
        corners = [strip.at(mm, out) for mm in (a, b) for out in (0, BRACKET_OUT + 3)]
        labels.take(box_round(corners))


def _label_pieces(labels: Labels, strip: _Strip, direction: Point, laid: LaidRun) -> None:
    """The length of each piece outside the run; what is left out for want of room stands in the description."""
    angle = readable_angle(direction)
    for start, end in laid.pieces:
        words = metres(end - start).removesuffix(" m")
        width = text_width(words)
        if width <= (end - start) * strip.sheet.scale:
            places = [Place(strip.at((start + end) / 2, LABEL_OUT + out), angle) for out in (0, 4, -4)]
            chosen = labels.choose(places, width, TEXT)
            strip.sheet.text(chosen.at, words, "piece-length", angle)


def _label_sides(labels: Labels, sheet: Sheet, panel: Panel) -> None:
    """The number and length of each side; the number alone where there is no room for both."""
    shortest_first = sorted(range(len(panel.outline.sides)), key=lambda at: panel.outline.sides[at].length_mm)
    for index in shortest_first:
        side = panel.outline.sides[index]
        words = f"{index + 1}: {metres(side.length_mm)}"
        width = text_width(words)
        if labels.free(_side_places(sheet, panel, index, width), width, TEXT) is None:
            words = str(index + 1)
            width = text_width(words)
        chosen = labels.choose(_side_places(sheet, panel, index, width), width, TEXT)
        sheet.text(chosen.at, words, "side-length", chosen.angle)


def _side_places(sheet: Sheet, panel: Panel, index: int, width: float) -> list[Place]:
    """Places for the number and length of a side: inside, along it; across it where it is short."""
    strip, length = _strip(sheet, panel, index), panel.outline.sides[index].length_mm
    shares = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)
    half = width / 2 / sheet.scale
    along_it = readable_angle(panel.outline.directions[index])
    across_it = readable_angle(panel.outline.outward(index))
    places = [
        Place(strip.at(length * share, -LABEL_IN), along_it)
        for share in shares
        if half <= length * share <= length - half
    ]
    return places + [Place(strip.at(length * share, -6 - width / 2), across_it) for share in shares]


def _label_middle(labels: Labels, sheet: Sheet, panel: Panel) -> None:
    mass = f"{panel.thickness_mm} mm, {panel.mass_kg() / 1000:.1f} t"
    wide = max(text_width(mass), text_width(panel.mark))
    places = [Place(sheet.at(at)) for at in _on_the_concrete(panel)]
    roomy = labels.free(places, wide, 2.4 * TEXT)
    if roomy is not None:
        x, y = roomy.at
        sheet.text((x, y - 10), panel.mark, "mark", bold=True)
        sheet.text((x, y + 10), mass, "mass")
    else:
        chosen = labels.choose(places, text_width(panel.mark), TEXT)
        sheet.text(chosen.at, panel.mark, "mark", bold=True)


def _on_the_concrete(panel: Panel) -> list[Point]:
    """A grid of places on the concrete, that nearest the middle first."""
    left, bottom, right, top = panel.outline.box
    middle = ((left + right) / 2, (bottom + top) / 2)
    shares = [count / 24 for count in range(1, 24)]
    grid = [(left + (right - left) * i, bottom + (top - bottom) * j) for i in shares for j in shares]
    clear = [at for at in grid if panel.outline.contains(at)]
    return sorted(clear, key=lambda at: math.dist(at, middle)) or [middle]
