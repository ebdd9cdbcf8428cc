"""Stock against need as steps: one small SVG a section. The figures stand in a table behind each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from itertools import groupby
from xml.etree.ElementTree import Element, SubElement, tostring

from jobs.selectors.plans import Level

WIDTH, HEIGHT, LEFT, BOTTOM, TOP = 640, 228, 96, 32, 28


def step_chart(levels: Sequence[Level], section_mm: int, decides: date | None, day_words: str) -> str:
    """On hand as a line, in use as filled steps, what is lacking cross-hatched, what others have reserved as an
    outline above what is on hand; the day that decides marked, dated and said in words."""
    most = max(max(level.used, level.on_hand + level.reserved) for level in levels) or 1
    root = Element("svg", {"viewBox": f"0 0 {WIDTH} {HEIGHT}", "class": "chart", "role": "img"})
    root.set("aria-label", _in_words(levels, section_mm, decides, day_words))
    _hatch(root, section_mm)
    wide = (WIDTH - LEFT) / len(levels)
    high = HEIGHT - BOTTOM - TOP

    def y(mm: int) -> float:
        return HEIGHT - BOTTOM - high * mm / most

    for at, count, level in _spans(levels):
        left, across = LEFT + at * wide, count * wide
        if level.reserved:
            _bar(root, "reserved", left, across, y(level.on_hand + level.reserved), y(level.on_hand), section_mm)
        _bar(root, "used", left, across, y(min(level.used, level.on_hand)), y(0))
        if level.used > level.on_hand:
            _bar(root, "lack", left, across, y(level.used), y(level.on_hand))
    _line(root, "all-there", levels, wide, lambda level: y(level.on_hand + level.reserved))
    _line(root, "on-hand", levels, wide, lambda level: y(level.on_hand))
    _frame(root, levels, most)
    if decides is not None and levels[0].day <= decides <= levels[-1].day:
        _mark(root, LEFT + (decides - levels[0].day).days * wide, f"{day_words}: {_day(decides)}")
    return tostring(root, encoding="unicode")


def _in_words(levels: Sequence[Level], section_mm: int, decides: date | None, day_words: str) -> str:
    """What the picture shows, for who cannot see it; the figures follow in the table."""
    worst = max(levels, key=lambda level: level.used - level.on_hand)
    words = f"Section {section_mm} mm, {_day(levels[0].day)} to {_day(levels[-1].day)}: metres on hand, needed and "
    words += f"reserved by others. Least to spare on {_day(worst.day)}: {worst.used / 1000:,.1f} m needed of "
    words += f"{worst.on_hand / 1000:,.1f} m on hand."
    return words + (f" {day_words.capitalize()}: {_day(decides)}." if decides else "")


def _spans(levels: Sequence[Level]) -> list[tuple[int, int, Level]]:
    """Days alike drawn as one: where they start, how many there are, and the first of them."""
    found, at = [], 0
    for _, alike in groupby(levels, key=lambda level: (level.used, level.on_hand, level.reserved)):
        days = list(alike)
        found.append((at, len(days), days[0]))
        at += len(days)
    return found


def _hatch(root: Element, section_mm: int) -> None:
    pattern = SubElement(
        root,
        "pattern",
        {"id": f"others-{section_mm}", "width": "8", "height": "8", "patternUnits": "userSpaceOnUse"},
    )
    SubElement(pattern, "path", {"class": "hatch", "d": "M0 8 L8 0"})


def _bar(
    root: Element, kind: str, left: float, wide: float, top: float, bottom: float, section_mm: int | None = None
) -> None:
    size = {"x": f"{left:.1f}", "y": f"{top:.1f}", "width": f"{wide + 0.5:.1f}", "height": f"{bottom - top:.1f}"}
    if section_mm is not None:
        size["fill"] = f"url(#others-{section_mm})"
    SubElement(root, "rect", {"class": kind, **size})


def _line(root: Element, kind: str, levels: Sequence[Level], wide: float, y: Callable[[Level], float]) -> None:
    points = [(LEFT + (at + end) * wide, y(level)) for at, level in enumerate(levels) for end in (0, 1)]
    SubElement(root, "polyline", {"class": kind, "points": " ".join(f"{x:.1f},{v:.1f}" for x, v in points)})


def _frame(root: Element, levels: Sequence[Level], most: int) -> None:
    foot = HEIGHT - BOTTOM
    SubElement(root, "line", {"class": "axis", "x1": str(LEFT), "x2": str(WIDTH), "y1": str(foot), "y2": str(foot)})
    _text(root, LEFT - 6, TOP + 10, f"{most / 1000:,.0f} m", "end")
    _text(root, LEFT - 6, foot, "0", "end")
    _text(root, LEFT, HEIGHT - 8, _day(levels[0].day), "start")
    _text(root, WIDTH, HEIGHT - 8, _day(levels[-1].day), "end")


def _mark(root: Element, x: float, words: str) -> None:
    ends = {"x1": f"{x:.1f}", "x2": f"{x:.1f}", "y1": str(TOP), "y2": str(HEIGHT - BOTTOM)}
    SubElement(root, "line", {"class": "deciding", **ends})
    # Beside the line, towards the middle: whatever the size of the letters, never over the figure of the scale.
    _text(root, x, TOP - 6, words, "start" if x < WIDTH / 2 else "end")


def _text(root: Element, x: float, y: float, words: str, anchor: str) -> None:
    place = {"x": f"{x:.1f}", "y": f"{y:.1f}", "text-anchor": anchor}
    SubElement(root, "text", place).text = words


def _day(day: date) -> str:
    return f"{day.day} {day:%b}"
