"""What a plan must flag about stacks: each check is a setting with the default given, common practice.

Panels of a stack are cast one on another from level 1 up. Checks look at each panel and the one below it:
step-in, overhang, section against thickness, order of levels, and inserts for what is to stand on it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from jobs.planning.findings import Finding
from jobs.planning.geometry import TOUCH_MM, Point, along, edges, inside, minus, on_ring, outward
from jobs.planning.outline import Outline
from jobs.planning.panels import Panel
from jobs.planning.placing import below, place_outline

Steps = Mapping[int, tuple[float, float]]


@dataclass(frozen=True, slots=True)
class StackChecks:
    """Which checks are made. None or False leaves one out."""

    max_step_in_mm: int | None = 300
    max_overhang_mm: int | None = 0
    section_is_thickness: bool = True
    levels_in_order: bool = True
    set_after_strip: bool = True
    inserts_below: bool = True
    cast_twice_without_cleaning: bool = True


def check_stacks(panels: Sequence[Panel], checks: StackChecks, without_inserts: Collection[str] = ()) -> list[Finding]:
    """Every finding on the stacks of a plan. `without_inserts` are marks of panels already cast that had
    no insert put in for another on top."""
    found = [finding for panel in panels for finding in _check_section(panel, checks)]
    for stack in by_stack(panels).values():
        found += _check_levels(stack, checks)
        for lower, upper in neighbours(stack):
            found += check_pair(lower, upper, checks, lower.mark in without_inserts)
    return found


def check_pair(lower: Panel, upper: Panel, checks: StackChecks, no_inserts: bool = False) -> list[Finding]:
    """Findings on one panel on another."""
    known = _steps(*_lying(lower, upper))
    found = [*_check_steps(lower, upper, checks, known), *_check_overhang(lower, upper, checks)]
    if no_inserts and checks.inserts_below:
        sentence = (
            f"Panel {upper.mark} is to stand on {lower.mark}, which was cast with no inserts for it: its "
            "brackets have nothing to bolt to. Fix to the slab, or ask the engineer about fixing to the panel."
        )
        found.append(_finding(upper, "no-inserts", sentence))
    return found


def by_stack(panels: Iterable[Panel]) -> dict[str, list[Panel]]:
    """The panels of each stack, lowest first."""
    stacks: dict[str, list[Panel]] = defaultdict(list)
    for panel in panels:
        stacks[panel.stack_name].append(panel)
    return {name: sorted(stack, key=lambda panel: (panel.level, panel.mark)) for name, stack in stacks.items()}


def neighbours(stack: Sequence[Panel]) -> list[tuple[Panel, Panel]]:
    """Each panel of a stack with the next one above it; two on one level are not neighbours."""
    pairs = []
    for upper in stack:
        lower = [panel for panel in stack if panel.level < upper.level]
        if lower:
            pairs.append((lower[-1], upper))
    return pairs


def lifting_order(stack: Sequence[Panel]) -> list[Panel]:
    """The order in which a stack is lifted: the top panel, cast last, comes off first."""
    return sorted(stack, key=lambda panel: -panel.level)


def steps(lower: Panel, upper: Panel) -> dict[int, tuple[float, float]]:
    """For each side of the upper panel, the least and the greatest step-in from the lower one, in mm.

    Negative is an overhang. A side with no edge of the lower panel facing the same way is left out.

    >>> from jobs.planning.outline import rectangle
    >>> low, high = Panel("A1", rectangle(6000, 3000), 150), Panel("A2", rectangle(5600, 3000), 150, level=2)
    >>> steps(low, high)
    {0: (0.0, 0.0), 1: (200.0, 200.0), 2: (0.0, 0.0), 3: (200.0, 200.0)}
    """
    return dict(_steps(*_lying(lower, upper)))


# The geometry of one panel on another is that of their shapes: worked out once for all that lie alike.
_Lying = tuple[Outline, Outline, tuple[int, int], int]


def _lying(lower: Panel, upper: Panel) -> _Lying:
    return lower.outline, upper.outline, upper.offset, upper.quarter_turns


@lru_cache(maxsize=20_000)
def _steps(lower: Outline, upper: Outline, offset: tuple[int, int], turns: int) -> Steps:
    placing, ground = place_outline(upper, lower, offset, turns), lower.corners
    found = {}
    for side, (a, b) in enumerate(edges([placing.point(corner) for corner in upper.corners])):
        way = outward(placing.direction(upper.directions[side]))
        near = [below(at, way, ground) for at in _places(a, b, ground)]
        seen = [one.step_mm for one in near if one is not None]
        if seen:
            found[side] = (min(seen), max(seen))
    return found


def not_cleaned(forms: Sequence[str], pour: str) -> Finding:
    """The finding for forms cast twice without cleaning between: the record of the gear says which.

    >>> not_cleaned(["T1", "T2"], "P1").sentence
    'T1, T2 cast again in pour P1 without cleaning between: forms are cleaned after every pour.'
    """
    named = ", ".join(forms[:5]) + (f" and {len(forms) - 5} more" if len(forms) > 5 else "")
    sentence = f"{named} cast again in pour {pour} without cleaning between: forms are cleaned after every pour."
    return Finding("not-cleaned", sentence, f"pour {pour}")


def _check_section(panel: Panel, checks: StackChecks) -> list[Finding]:
    if not checks.section_is_thickness or panel.section_mm == panel.thickness_mm:
        return []
    sentence = (
        f"Panel {panel.mark} is {panel.thickness_mm} mm thick and its forms are {panel.section_mm} mm high: "
        "choose the section that equals the thickness."
    )
    return [_finding(panel, "section", sentence)]


def _check_levels(stack: Sequence[Panel], checks: StackChecks) -> list[Finding]:
    if not checks.levels_in_order:
        return []
    found = []
    counts = Counter(panel.level for panel in stack)
    for panel in stack:
        if counts[panel.level] > 1:
            same = f"Stack {panel.stack_name} has more than one panel on level {panel.level}: number them."
            found.append(_finding(panel, "level-order", same))
        if panel.level > 1 and panel.level - 1 not in counts:
            gap = f"Panel {panel.mark} is on level {panel.level} with nothing on level {panel.level - 1}."
            found.append(_finding(panel, "level-order", gap))
    return found


def _check_steps(lower: Panel, upper: Panel, checks: StackChecks, known: Steps) -> list[Finding]:
    limit = checks.max_step_in_mm
    if limit is None:
        return []
    return [
        _finding(
            upper,
            "step-in",
            f"Side {side + 1} of panel {upper.mark} steps in {greatest:.0f} mm from panel {lower.mark} below; "
            f"the most is {limit} mm, or a stack bracket does not reach.",
            side,
        )
        for side, (_, greatest) in known.items()
        if greatest > limit + TOUCH_MM
    ]


def _check_overhang(lower: Panel, upper: Panel, checks: StackChecks) -> list[Finding]:
    limit = checks.max_overhang_mm
    if limit is None:
        return []
    found = []
    hanging, gap = _overhang(*_lying(lower, upper), limit)
    for side, over in hanging.items():
        much = f"by {over:.0f} mm" if over is not None else "there"
        sentence = f"Side {side + 1} of panel {upper.mark} overhangs panel {lower.mark} {much}: support it."
        found.append(_finding(upper, "overhang", sentence, side))
    if gap:
        sentence = f"Panel {upper.mark} bridges a gap in panel {lower.mark} below: fill or support it."
        found.append(_finding(upper, "overhang", sentence))
    return found


@lru_cache(maxsize=20_000)
def _overhang(
    lower: Outline, upper: Outline, offset: tuple[int, int], turns: int, limit: int
) -> tuple[Mapping[int, float | None], bool]:
    """Sides of the upper shape that leave the lower one by more than `limit`, and how far if known; if none does,
    whether it bridges a gap: whether a corner of the lower shape lies under it, whose edge turns in beneath it."""
    placing, ground, known = (
        place_outline(upper, lower, offset, turns),
        lower.corners,
        _steps(lower, upper, offset, turns),
    )
    ring = [placing.point(corner) for corner in upper.corners]
    found: dict[int, float | None] = {}
    for side, (a, b) in enumerate(edges(ring)):
        if not all(_covered(at, ground, limit) for at in _places(a, b, ground)):
            least = known[side][0] if side in known else 0.0
            found[side] = -least if least < 0 else None
    within = limit + TOUCH_MM
    return found, not found and any(inside(at, ring) and not on_ring(at, ring, within) for at in ground)


def _covered(at: Point, ground: Sequence[Point], limit: int) -> bool:
    return inside(at, ground) or on_ring(at, ground, limit + TOUCH_MM)


def _places(a: Point, b: Point, ground: Sequence[Point]) -> list[Point]:
    """Places on a side at which what lies below may change: about each corner below, and its ends."""
    side = minus(b, a)
    length = (side[0] ** 2 + side[1] ** 2) ** 0.5
    way = (side[0] / length, side[1] / length)
    marks = [(x - a[0]) * way[0] + (y - a[1]) * way[1] for x, y in ground]
    near = [mark + nudge for mark in marks for nudge in (-1.0, 1.0)]
    return [along(a, way, mm) for mm in sorted({1.0, length / 2, length - 1.0, *near}) if 0 < mm < length]


def _finding(panel: Panel, code: str, sentence: str, side: int | None = None) -> Finding:
    where = f"panel {panel.mark}" + ("" if side is None else f", side {side + 1}")
    return Finding(code, sentence, where, "warn", panel.mark, side)
