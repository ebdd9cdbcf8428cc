"""Charts of the figures as SVG: readable in print and, by title and the table beside it, to a screen reader."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor, log10
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement, tostring

from inventory.figures.survival import Curve

WIDTH, LEFT, RIGHT, TOP, FOOT = 640, 56, 12, 16, 34


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
    high = 260
    root = _root(high, f"{name}: share still in service by number of uses, with its 95 per cent band")
    most = max(curve.last, 1)

    def x(uses: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * uses / most

    def y(share: float) -> float:
        return high - FOOT - (high - FOOT - TOP) * share

    upper, lower, middle = ([(x(0), y(1.0))] for _ in range(3))
    for step in curve.steps:
        for line, share in ((middle, step.share), (lower, step.low), (upper, step.high)):
            line += [(x(step.uses), line[-1][1]), (x(step.uses), y(share))]
    for line in (middle, lower, upper):
        line.append((x(most), line[-1][1]))
    SubElement(root, "polygon", {"class": "band", "points": _points([*upper, *reversed(lower)])})
    SubElement(root, "polyline", {"class": "line", "points": _points(middle)})
    _axes(root, high, "uses", [(x(most * part / 4), f"{round(most * part / 4):,}") for part in range(5)])
    for share in (0, 0.25, 0.5, 0.75, 1):
        _text(root, LEFT - 6, y(share) + 4, f"{share:.0%}", "end")
    return tostring(root, encoding="unicode")


def bar_chart(bars: Sequence[Bar], name: str, unit: str) -> str:
    """One bar a row, from nought to either side, with its band as a line across its end; long names are cut short."""
    row, high = 26, TOP + 26 * len(bars) + FOOT
    banded = any(bar.ends for bar in bars)
    root = _root(high, f"{name}, each with its 95 per cent band" if banded else name)
    reach = [0.0, *(bar.value for bar in bars), *(end for bar in bars for end in bar.ends or ())]
    least, most = min(reach), max(reach)
    most = most if most > least else least + 1
    left, wide = 190, WIDTH - 190 - RIGHT - 24

    def x(value: float) -> float:
        return left + wide * (value - least) / (most - least)

    for at, bar in enumerate(bars):
        middle = TOP + row * at + row / 2
        _text(root, left - 8, middle + 4, bar.label if len(bar.label) <= 24 else f"{bar.label[:23]}…", "end")
        start, end = sorted((x(0), x(bar.value)))
        size = {"x": f"{start:.1f}", "y": f"{middle - 7:.1f}", "width": f"{end - start:.1f}", "height": "14"}
        SubElement(root, "rect", {"class": "bar", **size})
        if bar.ends:
            _whisker(root, x(bar.ends[0]), x(bar.ends[1]), middle)
    _line(root, "axis", x(0), TOP, x(0), high - FOOT)
    for mark in round_marks(least, most):
        _text(root, x(mark), high - 16, f"{mark:,g}", "middle")
    _text(root, WIDTH - RIGHT, high - 2, unit, "end")
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
    high = 220
    root = _root(high, f"{title}: {' and '.join(names)}")
    most = max((value for column in columns for value in column.values), default=0) or 1
    wide = (WIDTH - LEFT - RIGHT) / max(1, len(columns))
    each = wide * 0.8 / max(1, len(names))
    for at, column in enumerate(columns):
        for nth, value in enumerate(column.values):
            tall = (high - FOOT - TOP) * value / most
            size = {
                "x": f"{LEFT + wide * at + wide * 0.1 + each * nth:.1f}",
                "y": f"{high - FOOT - tall:.1f}",
                "width": f"{each:.1f}",
                "height": f"{tall:.1f}",
            }
            SubElement(root, "rect", {"class": f"bar bar-{nth}", **size})
    every = max(1, len(columns) // 12)
    _axes(
        root,
        high,
        unit,
        [(LEFT + wide * (at + 0.5), c.label) for at, c in enumerate(columns) if at % every == 0],
        middle=True,
    )
    for mark in round_marks(0, most):
        _text(root, LEFT - 6, high - FOOT - (high - FOOT - TOP) * mark / most + 4, f"{mark:,g}", "end")
    return tostring(root, encoding="unicode")


def _root(high: float, words: str) -> Element:
    root = Element("svg", {"viewBox": f"0 0 {WIDTH} {high:.0f}", "class": "chart", "role": "img", "aria-label": words})
    SubElement(root, "title").text = words
    return root


def _axes(root: Element, high: float, unit: str, ticks: Sequence[tuple[float, str]], *, middle: bool = False) -> None:
    foot = high - FOOT
    _line(root, "axis", LEFT, foot, WIDTH - RIGHT, foot)
    _line(root, "axis", LEFT, TOP, LEFT, foot)
    for at, (x, words) in enumerate(ticks):
        ends = not middle and at == len(ticks) - 1
        _text(root, x, high - 16, words, "end" if ends else "middle")
    _text(root, WIDTH - RIGHT, high - 2, unit, "end")


def _line(root: Element, kind: str, x1: float, y1: float, x2: float, y2: float) -> None:
    ends = {"x1": f"{x1:.1f}", "y1": f"{y1:.1f}", "x2": f"{x2:.1f}", "y2": f"{y2:.1f}"}
    SubElement(root, "line", {"class": kind, **ends})


def _text(root: Element, x: float, y: float, words: str, anchor: str) -> None:
    SubElement(root, "text", {"x": f"{x:.1f}", "y": f"{y:.1f}", "text-anchor": anchor}).text = words


def _points(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
