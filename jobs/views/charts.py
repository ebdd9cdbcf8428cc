"""Stock against need as steps: one small SVG a section. Words and figures stand in the page beside it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from xml.etree.ElementTree import Element, SubElement, tostring

from jobs.selectors.plans import Level

WIDTH, HEIGHT, LEFT, BOTTOM, TOP = 640, 200, 56, 28, 18


def step_chart(levels: Sequence[Level], section_mm: int, decides: date | None) -> str:
    """Metres on hand as a line and in use as a filled step, day by day; the deciding day marked."""
    most = max(max(level.used, level.on_hand) for level in levels) or 1
    root = Element("svg", {"viewBox": f"0 0 {WIDTH} {HEIGHT}", "class": "chart", "role": "img"})
    root.set("aria-label", f"Section {section_mm} mm: metres on hand and in use, day by day")
    wide = (WIDTH - LEFT) / len(levels)
    high = HEIGHT - BOTTOM - TOP

    def y(mm: int) -> float:
        return HEIGHT - BOTTOM - high * mm / most

    for at, level in enumerate(levels):
        left = LEFT + at * wide
        _bar(root, "used", left, wide, y(min(level.used, level.on_hand)), y(0))
        if level.used > level.on_hand:
            _bar(root, "lack", left, wide, y(level.used), y(level.on_hand))
    points = [(LEFT + (at + end) * wide, y(level.on_hand)) for at, level in enumerate(levels) for end in (0, 1)]
    SubElement(root, "polyline", {"class": "on-hand", "points": " ".join(f"{x:.1f},{v:.1f}" for x, v in points)})
    _frame(root, levels, most)
    if decides is not None and levels[0].day <= decides <= levels[-1].day:
        _mark(root, LEFT + (decides - levels[0].day).days * wide, decides)
    return tostring(root, encoding="unicode")


def _bar(root: Element, kind: str, left: float, wide: float, top: float, bottom: float) -> None:
    size = {"x": f"{left:.1f}", "y": f"{top:.1f}", "width": f"{wide + 0.5:.1f}", "height": f"{bottom - top:.1f}"}
    SubElement(root, "rect", {"class": kind, **size})


def _frame(root: Element, levels: Sequence[Level], most: int) -> None:
    foot = HEIGHT - BOTTOM
    SubElement(root, "line", {"class": "axis", "x1": str(LEFT), "x2": str(WIDTH), "y1": str(foot), "y2": str(foot)})
    _text(root, LEFT - 6, TOP + 10, f"{most / 1000:,.0f} m", "end")
    _text(root, LEFT - 6, foot, "0", "end")
    _text(root, LEFT, HEIGHT - 8, _day(levels[0].day), "start")
    _text(root, WIDTH, HEIGHT - 8, _day(levels[-1].day), "end")


def _mark(root: Element, x: float, day: date) -> None:
    ends = {"x1": f"{x:.1f}", "x2": f"{x:.1f}", "y1": str(TOP), "y2": str(HEIGHT - BOTTOM)}
    SubElement(root, "line", {"class": "deciding", **ends})
    _text(root, min(max(x, LEFT + 40), WIDTH - 40), TOP - 5, _day(day), "middle")


def _text(root: Element, x: float, y: float, words: str, anchor: str) -> None:
    place = {"x": f"{x:.1f}", "y": f"{y:.1f}", "text-anchor": anchor}
    SubElement(root, "text", place).text = words


def _day(day: date) -> str:
    return f"{day.day} {day:%b}"
