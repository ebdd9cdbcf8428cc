"""Panels as stored and panels as the take-off sees them, each made from the other."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from functools import lru_cache
from typing import Any

from jobs.models import Job, Panel
from jobs.planning.outline import Outline, Side, outline, rectangle
from jobs.planning.panels import Opening
from jobs.planning.panels import Panel as Planned


def planned_panels(job: Job, stacks: Collection[str] | None = None) -> tuple[Planned, ...]:
    """Every panel of a job, or of those stacks alone, in order of stack and level."""
    rows = job.panels.select_related("pour")
    return tuple(planned(panel) for panel in (rows if stacks is None else rows.filter(stack__in=stacks)))


def planned(panel: Panel) -> Planned:
    return Planned(
        mark=panel.mark,
        outline=_outline(panel),
        thickness_mm=panel.thickness_mm,
        stack=panel.stack,
        level=panel.level,
        pour=panel.pour.name,
        section_given_mm=panel.section_mm,
        offset=(panel.offset_x_mm or 0, panel.offset_y_mm or 0),
        quarter_turns=panel.quarter_turns,
        openings=tuple(Opening(**opening) for opening in panel.openings),
        seats_at="end" if panel.seats_at == "end" else "start",
    )


def _outline(panel: Panel) -> Outline:
    """Its sides; a panel stored by width and height alone is a rectangle."""
    if panel.sides:
        return _outlined(tuple(Side(side["length_mm"], side["turn_deg"], side["edge"]) for side in panel.sides))
    return rectangle(panel.width_mm or 0, panel.height_mm or 0)


@lru_cache(maxsize=4096)
def _outlined(sides: tuple[Side, ...]) -> Outline:
    """The same outline for panels that are alike: what is worked out about it is worked out once."""
    return outline(sides)


def stored_fields(panel: Planned) -> dict[str, Any]:
    """The columns of a stored panel, but for its mark, job and pour."""
    shape = panel.outline
    return {
        "stack": panel.stack_name,
        "level": panel.level,
        "thickness_mm": panel.thickness_mm,
        "section_mm": panel.section_given_mm,
        "width_mm": round(shape.width_mm),
        "height_mm": round(shape.height_mm),
        "sides": [{"length_mm": s.length_mm, "turn_deg": s.turn, "edge": s.edge} for s in shape.sides],
        "openings": [_opening(opening) for opening in panel.openings],
        "offset_x_mm": panel.offset[0],
        "offset_y_mm": panel.offset[1],
        "quarter_turns": panel.quarter_turns,
        "seats_at": panel.seats_at,
    }


def changed_fields(stored: Panel, fields: dict[str, Any]) -> list[str]:
    """The names of the columns that would change."""
    return [name for name, value in fields.items() if getattr(stored, name) != value]


def reading_order(mark: str) -> list[tuple[bool, int, str]]:
    """The key that sorts W2 before W10, as a drawing lists them."""
    parts = (part for part in re.split(r"(\d+)", mark) if part)
    return [(not part.isdecimal(), int(part) if part.isdecimal() else 0, part.lower()) for part in parts]


def sections(panels: Iterable[Planned]) -> list[int]:
    return sorted({panel.section_mm for panel in panels})


def _opening(opening: Opening) -> dict[str, int]:
    return {
        "x_mm": opening.x_mm,
        "y_mm": opening.y_mm,
        "width_mm": opening.width_mm,
        "height_mm": opening.height_mm,
    }
