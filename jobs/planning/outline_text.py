"""An outline as one cell of a panel schedule: sides in order, parted by spaces.

Each side is a length in whole mm, then "o" if it is open or "s" if it is against something solid, then, after
"@", the turn in degrees at its end where that is not 90. An opening is width x height @ x, y of its lower
left corner from the start of the first side; openings are parted by semicolons.

>>> shape = parse_outline("6000 2000 3000@-90 1000o 3000s 3000")
>>> [side.edge for side in shape.sides][3:5], shape.sides[2].turn
(['open', 'solid'], -90.0)
>>> format_outline(shape)
'6000 2000 3000@-90 1000o 3000s 3000'
>>> parse_openings("900x2100@1000,0; 600x600@3000,1200")[1]
Opening(x_mm=3000, y_mm=1200, width_mm=600, height_mm=600)
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from jobs.errors import Refused
from jobs.planning.outline import Edge, Outline, Side, outline
from jobs.planning.panels import Opening

_SIDE = re.compile(r"(?P<mm>\d+)(?P<mark>[oOsS]?)(?:@(?P<turn>[+-]?\d+(?:\.\d+)?))?(?P<late>[oOsS]?)")
_OPENING = re.compile(r"(\d+)\s*[xX×]\s*(\d+)\s*@\s*(\d+)\s*,\s*(\d+)")
_EDGES: dict[str, Edge] = {"": "form", "o": "open", "s": "solid"}
_MARKS: dict[Edge, str] = {edge: mark for mark, edge in _EDGES.items()}


def parse_outline(text: str) -> Outline:
    """The outline that a text gives. Raises Refused ("outline-text", or what `outline` refuses)."""
    return outline([_side(number, word) for number, word in enumerate(text.replace(",", " ").split(), start=1)])


def format_outline(shape: Outline) -> str:
    """The text that `parse_outline` reads back."""
    return " ".join(
        f"{side.length_mm}{_MARKS[side.edge]}{'' if side.turn == 90 else f'@{side.turn:g}'}" for side in shape.sides
    )


def parse_openings(text: str) -> tuple[Opening, ...]:
    """The openings that a text gives; none for an empty text. Raises Refused ("openings-text")."""
    return tuple(_opening(word.strip()) for word in text.split(";") if word.strip())


def format_openings(openings: Sequence[Opening]) -> str:
    """The text that `parse_openings` reads back."""
    return "; ".join(f"{one.width_mm}x{one.height_mm}@{one.x_mm},{one.y_mm}" for one in openings)


def _side(number: int, word: str) -> Side:
    found = _SIDE.fullmatch(word)
    if not found or (found["mark"] and found["late"]):
        raise Refused(
            "outline-text",
            f"Side {number}, {word!r}, cannot be read. Write a length in whole mm, o or s if it is open "
            "or against something solid, and @ with the turn where it is not 90, such as 3000, 3000o or 1200@-90.",
        )
    edge = _EDGES[(found["mark"] or found["late"]).lower()]
    return Side(int(found["mm"]), float(found["turn"] or 90), edge)


def _opening(word: str) -> Opening:
    found = _OPENING.fullmatch(word)
    if not found or "0" in (found[1].lstrip("0") or "0", found[2].lstrip("0") or "0"):
        raise Refused(
            "openings-text",
            f"Opening {word!r} cannot be read. Write width x height @ x, y: 900x2100@1000,0.",
        )
    width, height, x, y = (int(part) for part in found.groups())
    return Opening(x, y, width, height)
