"""Charts of the figures as SVG: readable in print and, by title and the table beside it, to a screen reader.

What lies across is said in per cent of the width and what stands up in pixels, so that the drawing is as wide as the
page gives it, phone or desk, while its lettering keeps its size. The frame is the plot itself: marks at its left and
words beneath it stand outside (figures.css leaves room for them).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor, log10
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement, tostring

from inventory.figures.survival import Curve

TOP, FOOT = 12, 42
LONGEST = 38
"""Characters of a name that a phone has room for; the table has all of it."""


class Bar(NamedTuple):
    """A named value with its band, where it has one; all in the same unit."""

    label: str
    value: float
    low: float | None = None
    high: float | None = None

    @property
    def ends(self) -> tuple[float, float] | None:
        return None if self.low is None or self.high is None else (self.low, self.high)


class Column(NamedTuple):
    """Values side by side over one name."""

    label: str
    values: tuple[float, ...]


def survival_chart(curve: Curve, name: str) -> str:
    """The share that outlives so many uses, as steps, over its 95 % band."""
    foot = 230
    root = _root(foot + FOOT, f"{name}: share still in service by number of uses, with its 95 per cent band", "plot")
    most = max(curve.last, 1)
    upper, lower, middle = ([(0.0, 0.0)] for _ in range(3))
    for step in curve.steps:
        for line, share in ((middle, step.share), (lower, step.low), (upper, step.high)):
            at = 100 * step.uses / most
            line += [(at, line[-1][1]), (at, 100 - 100 * share)]
    for line in (middle, lower, upper):
        line.append((100.0, line[-1][1]))
    size = {"x": "0", "y": str(TOP), "width": "100%", "height": str(foot - TOP)}
    plot = SubElement(root, "svg", {"viewBox": "0 0 100 100", "preserveAspectRatio": "none", **size})
    SubElement(plot, "polygon", {"class": "band", "points": _points([*upper, *reversed(lower)])})
    SubElement(plot, "polyline", {"class": "line", "points": _points(middle)})
    _axes(root, foot, "uses", [(25.0 * part, f"{round(most * part / 4):,}") for part in range(5)])
    for share in (0, 0.25, 0.5, 0.75, 1):
        _text(root, -6, foot - (foot - TOP) * share + 4, f"{share:.0%}", "end")
    return tostring(root, encoding="unicode")


def bar_chart(bars: Sequence[Bar], name: str, unit: str) -> str:
    """One bar a row under its name, from nought to either side, with its band as a line across its end."""
    row = 42
    foot = TOP + row * len(bars)
    banded = any(bar.ends for bar in bars)
    root = _root(foot + FOOT, f"{name}, each with its 95 per cent band" if banded else name, "rows")
    reach = [0.0, *(bar.value for bar in bars), *(end for bar in bars for end in bar.ends or ())]
    least, most = min(reach), max(reach)
    most = most if most > least else least + 1

    def x(value: float) -> float:
        return 100 * (value - least) / (most - least)

    for at, bar in enumerate(bars):
        middle = TOP + row * at + 28
        _text(root, 0, middle - 13, bar.label if len(bar.label) <= LONGEST else f"{bar.label[: LONGEST - 1]}…", "start")
        start, end = sorted((x(0), x(bar.value)))
        _rect(root, "bar", (start, end - start), (middle - 7, 14))
        if bar.ends:
            _whisker(root, x(bar.ends[0]), x(bar.ends[1]), middle)
    _line(root, "axis", x(0), TOP, x(0), foot)
    marks = round_marks(least, most)
    for nth, mark in enumerate(marks):
        at_edge = "start" if x(mark) < 3 else "end" if x(mark) > 97 else "middle"
        _text(root, f"{x(mark):.2f}%", foot + 18, f"{mark:,g}", at_edge, spare=len(marks) > 4 and nth % 2 == 1)
    _text(root, "100%", foot + 36, unit, "end")
    return tostring(root, encoding="unicode")


def _whisker(root: Element, low: float, high: float, middle: float) -> None:
    _line(root, "whisker", low, middle, high, middle)
    for end in (low, high):
        _line(root, "whisker", end, middle - 5, end, middle + 5)


def round_marks(least: float, most: float) -> list[float]:
    """Round numbers within [least, most], at most six, for the marks of an axis.

    >>> round_marks(0, 6.04)
    [0.0, 2.0, 4.0, 6.0]
    >>> round_marks(-30, 80)
    [-20.0, 0.0, 20.0, 40.0, 60.0, 80.0]
    """
    span = most - least
    power = 10.0 ** floor(log10(span / 5))
    step = next(power * factor for factor in (1, 2, 5, 10) if span / (power * factor) <= 5.5)
    first = ceil(least / step - 1e-9)
    count = floor(most / step + 1e-9) - first
    return [round((first + nth) * step, 10) for nth in range(count + 1)]


def column_chart(columns: Sequence[Column], names: Sequence[str], title: str, unit: str) -> str:
    """Groups of columns, one group a month; the first series plain, the second hatched by outline."""
    foot = 190
    root = _root(foot + FOOT, f"{title}: {' and '.join(names)}", "plot")
    most = max((value for column in columns for value in column.values), default=0) or 1
    wide = 100 / max(1, len(columns))
    each = wide * 0.8 / max(1, len(names))
    for at, column in enumerate(columns):
        for nth, value in enumerate(column.values):
            tall = (foot - TOP) * value / most
            _rect(root, f"bar bar-{nth}", (wide * at + wide * 0.1 + each * nth, each), (foot - tall, tall))
    every = max(1, ceil(len(columns) / 12))
    _axes(root, foot, unit, [(wide * (at + 0.5), c.label) for at, c in enumerate(columns) if at % every == 0], True)
    for mark in round_marks(0, most):
        _text(root, -6, foot - (foot - TOP) * mark / most + 4, f"{mark:,g}", "end")
    return tostring(root, encoding="unicode")


def _root(high: float, words: str, kind: str) -> Element:
    size = {"width": "100%", "height": f"{high:.0f}"}
    root = Element("svg", {"class": f"chart {kind}", "role": "img", "aria-label": words, **size})
    SubElement(root, "title").text = words
    return root


def _axes(root: Element, foot: float, unit: str, ticks: Sequence[tuple[float, str]], columns: bool = False) -> None:
    """Every other name of many columns is spare: it is left out where there is no room."""
    _line(root, "axis", 0, foot, 100, foot)
    _line(root, "axis", 0, TOP, 0, foot)
    for at, (x, words) in enumerate(ticks):
        anchor = "middle" if columns or 0 < at < len(ticks) - 1 else "end" if at else "start"
        _text(root, f"{x:.2f}%", foot + 18, words, anchor, spare=columns and len(ticks) > 6 and at % 2 == 1)
    _text(root, "100%", foot + 36, unit, "end")


def _rect(root: Element, kind: str, across: tuple[float, float], down: tuple[float, float]) -> None:
    """`across` its left edge and width in per cent, `down` its upper edge and height in pixels."""
    size = {"x": f"{across[0]:.2f}%", "width": f"{across[1]:.2f}%", "y": f"{down[0]:.1f}", "height": f"{down[1]:.1f}"}
    SubElement(root, "rect", {"class": kind, **size})


def _line(root: Element, kind: str, x1: float, y1: float, x2: float, y2: float) -> None:
    ends = {"x1": f"{x1:.2f}%", "y1": f"{y1:.1f}", "x2": f"{x2:.2f}%", "y2": f"{y2:.1f}"}
    SubElement(root, "line", {"class": kind, **ends})


def _text(root: Element, x: float | str, y: float, words: str, anchor: str, *, spare: bool = False) -> None:
    look = {"x": f"{x}", "y": f"{y:.1f}", "text-anchor": anchor} | ({"class": "spare"} if spare else {})
    SubElement(root, "text", look).text = words


def _points(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
