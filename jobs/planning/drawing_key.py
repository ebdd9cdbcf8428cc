"""The key to the drawings of panels: every mark with its words, for the foot of a page of them."""

from __future__ import annotations

from collections.abc import Callable
from xml.etree.ElementTree import Element, SubElement, tostring

from jobs.planning.sheet import HATCH, INK, TEXT

ROW = 24
WIDTH = 400


def draw_key(name: str = "key") -> str:
    """The key as an SVG of its own; `name` is unique on the page."""
    root = Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": f"0 0 {WIDTH} {ROW * ((len(MARKS) + 1) // 2)}",
            "width": "100%",
            "role": "img",
            "aria-labelledby": f"{name}-title",
            "class": "panel-key",
            "font-family": "system-ui, sans-serif",
            "font-size": str(TEXT - 1),
        },
    )
    SubElement(root, "title", {"id": f"{name}-title"}).text = "Key: " + "; ".join(words for words, _ in MARKS)
    for count, (words, draw) in enumerate(MARKS):
        row, column = divmod(count, 2)
        place = {"transform": f"translate({column * WIDTH // 2} {row * ROW})"}
        group = SubElement(root, "g", place)
        draw(group)
        look = {"x": "44", "y": str(ROW // 2), "dominant-baseline": "central", "fill": INK}
        SubElement(group, "text", look).text = words
    return tostring(root, encoding="unicode")


def _line(group: Element, x1: float, y1: float, x2: float, y2: float, **looks: str) -> None:
    ends = {"x1": str(x1), "y1": str(y1), "x2": str(x2), "y2": str(y2)}
    dashed = {key.replace("_", "-"): value for key, value in looks.items()}
    SubElement(group, "line", {"stroke": INK, **ends, **dashed})


def _form(group: Element, **looks: str) -> None:
    for y in (8, 16):
        _line(group, 4, y, 36, y, **{"stroke_width": "1.6", **looks})


def _joint(group: Element) -> None:
    _form(group)
    _line(group, 20, 4, 20, 20, stroke_width="2")


def _seat(group: Element) -> None:
    _form(group)
    SubElement(group, "polygon", {"points": "4,8 4,16 15,8", "fill": INK})


def _bracket(group: Element) -> None:
    SubElement(group, "circle", {"cx": "20", "cy": "12", "r": "3.2", "fill": INK})


def _solid(group: Element) -> None:
    _line(group, 4, 14, 36, 14, stroke_width="2.5")
    for x in range(6, 36, 8):
        _line(group, x + 5, 14, x, 7, stroke_width="0.8")


def _concrete(group: Element) -> None:
    for x in range(8, 34, 7):
        _line(group, x, 18, x + 8, 6, stroke=HATCH)


MARKS: tuple[tuple[str, Callable[[Element], None]], ...] = (
    ("edge form", _form),
    ("seat", _seat),
    ("joint", _joint),
    ("bracket", _bracket),
    ("overrun", lambda group: _form(group, stroke_width="1.2", stroke_dasharray="5 4")),
    ("concrete", _concrete),
    ("against solid", _solid),
    ("open: no form", lambda group: _line(group, 4, 12, 36, 12, stroke_width="1.2", stroke_dasharray="1 4")),
    ("made up on site", lambda group: _line(group, 4, 12, 36, 12, stroke_width="2", stroke_dasharray="10 4")),
    ("panel below", lambda group: _line(group, 4, 12, 36, 12, stroke_width="0.8", stroke_dasharray="8 2 2 2")),
)
