"""Jobs as bars on days, and stock against what is taken as steps: SVG. Words and figures stand in the page beside."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from xml.etree.ElementTree import Element, SubElement, tostring

from jobs.planning.fleet import Break
from jobs.selectors.fleet import Bar, Programme

WIDTH, LEFT, ROW, TOP = 960, 120, 26, 34
STEPS_HIGH = 180
DAY = timedelta(days=1)


class _Scale:
    """Days across the sheet."""

    def __init__(self, first: date, until: date) -> None:
        self.first, self.until = first, max(until, first + 14 * DAY)
        self.wide = (WIDTH - LEFT) / (self.until - self.first).days

    def x(self, day: date) -> float:
        return LEFT + (min(max(day, self.first), self.until) - self.first).days * self.wide


def calendar_chart(found: Programme, broken: Sequence[Break]) -> str:
    """One bar a job: pours filled, the gear still out as a line to the day it is due; breaking days as red bands."""
    first = min([found.today - 14 * DAY, *(bar.start for bar in found.bars)])
    last = max([found.today + 30 * DAY, *(bar.until for bar in found.bars)])
    scale = _Scale(max(first, found.today - 60 * DAY), last)
    high = TOP + ROW * max(1, len(found.bars)) + 8
    root = _sheet(high, "Jobs on days: pours as bars, gear out as a line to the day it is due back")
    for start, end in _joined(broken):
        left, right = scale.x(start), scale.x(end)
        if right > left:
            _add(root, "rect", "breaking", x=left, y=TOP - 6, width=max(right - left, 2), height=high - TOP)
    _months(root, scale, high)
    for at, bar in enumerate(found.bars):
        _bar(root, scale, bar, TOP + at * ROW)
    _add(root, "line", "today", x1=scale.x(found.today), x2=scale.x(found.today), y1=TOP - 8, y2=high)
    _text(root, scale.x(found.today), 12, "today", "middle")
    return tostring(root, encoding="unicode")


def _joined(broken: Sequence[Break]) -> list[tuple[date, date]]:
    """Stretches of days on which anything breaks, each once, so that a band is one shade however many types lack."""
    found: list[tuple[date, date]] = []
    for one in sorted(broken, key=lambda one: (one.first, one.until)):
        if found and one.first <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], one.until))
        else:
            found.append((one.first, one.until))
    return found


def _bar(root: Element, scale: _Scale, bar: Bar, top: float) -> None:
    _text(root, LEFT - 8, top + 14, bar.job.code, "end")
    middle = top + 9
    _add(root, "line", "gear-out", x1=scale.x(bar.start), x2=scale.x(bar.until), y1=middle, y2=middle)
    kind = "asked" if bar.job.stage == "asked" else "overdue" if bar.overdue else "pour"
    for _, start, free in bar.pours:
        wide = max(scale.x(free) - scale.x(start), 2)
        _add(root, "rect", kind, x=scale.x(start), y=top + 3, width=wide, height=12)
    if bar.due:
        _add(root, "line", "due", x1=scale.x(bar.due), x2=scale.x(bar.due), y1=top + 1, y2=top + 17)


def steps_chart(steps: Sequence[tuple[date, int, int]], section_mm: int, found: Programme) -> str:
    """Metres there as a line and taken as filled steps; red where more is taken than there is."""
    last = max([found.today + 30 * DAY, *(day + 7 * DAY for day, _, _ in steps)])
    scale = _Scale(found.today, min(last, found.until))
    high = TOP + STEPS_HIGH + 26
    root = _sheet(high, f"Section {section_mm} mm: metres there and taken, day by day")
    most = max([max(taken, there) for _, taken, there in steps], default=0) or 1
    ends = [day for day, _, _ in steps[1:]] + [scale.until]
    foot, points = TOP + STEPS_HIGH, []

    def y(mm: int) -> float:
        return foot - STEPS_HIGH * mm / most

    for (day, taken, there), end in zip(steps, ends, strict=True):
        left, wide = scale.x(day), scale.x(end) - scale.x(day)
        _add(root, "rect", "used", x=left, y=y(min(taken, there)), width=wide, height=foot - y(min(taken, there)))
        if taken > there:
            _add(root, "rect", "lack", x=left, y=y(taken), width=wide, height=y(there) - y(taken))
        points += [(left, y(there)), (left + wide, y(there))]
    line = SubElement(root, "polyline", {"class": "on-hand"})
    line.set("points", " ".join(f"{x:.1f},{v:.1f}" for x, v in points))
    _text(root, LEFT - 8, TOP + 10, f"{most / 1000:,.0f} m", "end")
    _text(root, LEFT - 8, foot, "0", "end")
    _months(root, scale, foot)
    return tostring(root, encoding="unicode")


def _months(root: Element, scale: _Scale, foot: float) -> None:
    """A thin line each Monday that begins a fortnight, with its date."""
    day = scale.first + timedelta(days=-scale.first.weekday() % 7)
    every = 14 if (scale.until - scale.first).days < 200 else 28
    while day < scale.until:
        _add(root, "line", "axis", x1=scale.x(day), x2=scale.x(day), y1=TOP - 8, y2=foot)
        _text(root, scale.x(day) + 3, 26, f"{day.day} {day:%b}", "start")
        day += timedelta(days=every)


def _sheet(high: float, label: str) -> Element:
    look = {"viewBox": f"0 0 {WIDTH} {high:.0f}", "class": "chart programme", "role": "img", "aria-label": label}
    return Element("svg", look)


def _add(root: Element, tag: str, kind: str, **places: float) -> None:
    SubElement(root, tag, {"class": kind, **{name: f"{value:.1f}" for name, value in places.items()}})


def _text(root: Element, x: float, y: float, words: str, anchor: str) -> None:
    SubElement(root, "text", {"x": f"{x:.1f}", "y": f"{y:.1f}", "text-anchor": anchor}).text = words
