"""Inserts in a panel for the brackets of the panel above, and, once it is cast, the brackets they allow.

An insert is held through the edge form of the lower panel while it is cast, so it sits in a side of it, at
the place that the upper panel's bracket comes down to: straight out from the upper side, on the lower side
that faces the same way. Once the lower panel is cast the inserts are where they are, and the brackets above
stand on them or are flagged. Whether an insert carries its load is the maker's and the engineer's to say.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from jobs.planning.findings import Finding
from jobs.planning.geometry import TOUCH_MM, Point, dot, minus
from jobs.planning.outline import Outline
from jobs.planning.panels import Panel
from jobs.planning.placing import Placing, below, place, place_outline
from jobs.planning.runs import PanelRun

FACING = 0.999


@dataclass(frozen=True, slots=True)
class Insert:
    """An insert in the lower panel: which side, counted from 0, and how far along it from its start, in mm."""

    side: int
    along_mm: int


@dataclass(frozen=True, slots=True)
class InsertPlace:
    """An insert and the bracket above that it is for; `step_mm` is how far the upper side stands in."""

    insert: Insert
    run: str
    bracket_mm: int
    step_mm: int


# A place along the run above, the insert under it, and how far the run stands in from it.
_Met = tuple[int, Insert, int]


def inserts_for(
    lower: Panel, upper: Panel, runs: Sequence[PanelRun], brackets: Mapping[str, Sequence[int]]
) -> tuple[tuple[InsertPlace, ...], tuple[Finding, ...]]:
    """Where the inserts for the upper panel go in the lower one, and the brackets that have no place for one.

    `runs` are the upper panel's, `brackets` their positions by run key, as the take-off gives them.
    """
    places: list[InsertPlace] = []
    findings: list[Finding] = []
    for run in runs:
        met, without = _under(lower.outline, upper.outline, upper.offset, upper.quarter_turns, *_along(run, brackets))
        places += [InsertPlace(insert, run.key, mm, step_mm) for mm, insert, step_mm in met]
        findings += [_no_insert(lower, upper, run, mm, side) for mm, side in without]
    return tuple(places), tuple(findings)


def without_insert(
    lower: Panel, upper: Panel, runs: Sequence[PanelRun], brackets: Mapping[str, Sequence[int]]
) -> list[Finding]:
    """The brackets of the upper panel that have no place for an insert, alone."""
    return [
        _no_insert(lower, upper, run, mm, side)
        for run in runs
        for mm, side in _under(lower.outline, upper.outline, upper.offset, upper.quarter_turns, *_along(run, brackets))[
            1
        ]
    ]


def _along(run: PanelRun, brackets: Mapping[str, Sequence[int]]) -> tuple[int, int, tuple[int, ...]]:
    return run.side, run.starts_mm, tuple(brackets.get(run.key, ()))


@lru_cache(maxsize=40_000)
def _under(
    lower: Outline, upper: Outline, offset: tuple[int, int], turns: int, side: int, starts_mm: int, at: tuple[int, ...]
) -> tuple[tuple[_Met, ...], tuple[tuple[int, int | None], ...]]:
    """For places along a run, each insert with how far the run stands in from it; and the places without one, with the
    side below that has no form, None where none faces the same way. The same for all panels that lie alike."""
    placing = place_outline(upper, lower, offset, turns)
    way, met, without = placing.direction(upper.outward(side)), list[_Met](), list[tuple[int, int | None]]()
    for mm in at:
        found = below(placing.point(upper.point_on(side, starts_mm + mm)), way, lower.corners)
        if found is None or lower.sides[found.side].edge != "form":
            without.append((mm, None if found is None else found.side))
        else:
            met.append((mm, Insert(found.side, round(found.along_mm)), round(found.step_mm)))
    return tuple(met), tuple(without)


def brackets_on_inserts(
    lower: Panel,
    upper: Panel,
    runs: Sequence[PanelRun],
    inserts: Iterable[Insert],
    lower_runs: Sequence[PanelRun] = (),
) -> tuple[dict[str, tuple[int, ...]], tuple[Finding, ...]]:
    """The bracket positions that inserts already cast give the runs of the panel above, by run key.

    Every run is there, with no position where it has no insert: `check_brackets` then says what it lacks.
    An insert under none of the upper panel's sides has a note, told along the run of `lower_runs` that it was cast in.
    """
    placing = place(upper, lower)
    fixed: dict[str, list[int]] = {run.key: [] for run in runs}
    findings = []
    for insert in inserts:
        met = _run_over(insert, lower.outline, upper.outline, placing, runs)
        if met is None:
            findings.append(_unused(lower, upper, insert, lower_runs))
        else:
            fixed[met[0].key].append(met[1])
    return {key: tuple(sorted(at)) for key, at in fixed.items()}, tuple(findings)


def _run_over(
    insert: Insert, lower: Outline, upper: Outline, placing: Placing, runs: Sequence[PanelRun]
) -> tuple[PanelRun, int] | None:
    """The run straight in from an insert, the outermost if there are several, and the place along it."""
    at, way = lower.point_on(insert.side, insert.along_mm), lower.outward(insert.side)
    found = [
        (step, run.side, run, round(along_mm) - run.starts_mm)
        for run in runs
        for step, along_mm in [_over(at, way, upper, placing, run.side)]
        if along_mm is not None and _on_run(along_mm, run)
    ]
    if not found:
        return None
    _, _, run, mm = min(found, key=lambda one: (abs(one[0]), one[1]))
    return run, mm


def _over(at: Point, way: Point, upper: Outline, placing: Placing, side: int) -> tuple[float, float | None]:
    """How far in a side of the upper panel stands from a place below, and the place along it; None if turned."""
    if dot(placing.direction(upper.outward(side)), way) < FACING:
        return 0.0, None
    start, direction = placing.point(upper.corners[side]), placing.direction(upper.directions[side])
    offset = minus(at, start)
    return dot(offset, way), dot(offset, direction)


def _on_run(along_mm: float, run: PanelRun) -> bool:
    return -TOUCH_MM <= along_mm - run.starts_mm <= run.length_mm + TOUCH_MM


def _no_insert(lower: Panel, upper: Panel, run: PanelRun, mm: int, side: int | None) -> Finding:
    where = f"panel {upper.mark}, side {run.side + 1}"
    facing = f"panel {lower.mark} has no side there facing the same way"
    why = facing if side is None else f"side {side + 1} of panel {lower.mark} has no form"
    sentence = (
        f"On side {run.side + 1} of panel {upper.mark} the bracket {run.reckoning.told(mm)} has no insert: {why}."
    )
    return Finding("bracket-without-insert", sentence, where, "warn", upper.mark, run.side)


def _unused(lower: Panel, upper: Panel, insert: Insert, lower_runs: Iterable[PanelRun]) -> Finding:
    where = f"panel {lower.mark}, side {insert.side + 1}"
    run = next((run for run in lower_runs if run.side == insert.side), None)
    at = (
        f"{insert.along_mm:,} mm from the start of that side"
        if run is None
        else run.reckoning.told(insert.along_mm - run.starts_mm)
    )
    sentence = (
        f"In side {insert.side + 1} of panel {lower.mark} the insert {at} is under no run of panel {upper.mark}: "
        "it stays unused."
    )
    return Finding("insert-unused", sentence, where, "note", lower.mark, insert.side)
