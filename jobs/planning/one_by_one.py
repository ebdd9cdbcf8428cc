"""Runs composed one by one, as a planner with a spreadsheet does: the baseline to compare the check with.

Each run takes the choice with the fewest joints, of those the least total length, of those the one whose
longest piece is longest, whatever the other runs take.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from datetime import date

from jobs.planning.answer import ComposedRun
from jobs.planning.patterns import Choices, choices_of, from_the_seat
from jobs.planning.request import CoverRequest


def compose_one_by_one(request: CoverRequest) -> tuple[ComposedRun, ...]:
    """Every run that has a legal choice, composed without regard to the others."""
    tables = _tables(request)
    known: dict[tuple[int, int, int, int], tuple[str, ...]] = {}
    composed = []
    for run in request.runs:
        key = (run.section_mm, *run.window(request.rules), run.seats)
        if key not in known:
            known[key] = _fewest_joints(tables[run.section_mm], *key[1:]) if run.section_mm in tables else ()
        if known[key]:
            composed.append(ComposedRun(run.pour, run.side, known[key]))
    return tuple(composed)


def _tables(request: CoverRequest) -> dict[int, Choices]:
    tables = {}
    for section in sorted({piece.section_mm for piece in request.pieces}):
        types = [piece for piece in request.pieces if piece.section_mm == section]
        mosts = [run.window(request.rules)[1] for run in request.runs if run.section_mm == section]
        if mosts:
            tables[section] = choices_of(types, request.rules.max_pieces_per_run, max(mosts), request.rules.ends)
    return tables


def _fewest_joints(choices: Choices, least: int, most: int, seats: int) -> tuple[str, ...]:
    rows = choices.within(least, most, seats)
    if not len(rows):
        return ()
    best = min(
        rows,
        key=lambda row: (int(choices.pieces[row]), int(choices.totals[row]), -_longest(choices, row), row),
    )
    return tuple(kind.code for kind in from_the_seat(choices.types, choices.counts[best], seats))


def _longest(choices: Choices, row: int) -> int:
    return max(kind.length_mm for kind, held in zip(choices.types, choices.counts[row], strict=True) if held)


def greatest_use(request: CoverRequest, composed: tuple[ComposedRun, ...]) -> dict[str, int]:
    """Each code's greatest daily use in a plan."""
    spans = {(run.pour, run.side): (run.start, run.until) for run in request.runs}
    changes: defaultdict[str, list[tuple[date, int]]] = defaultdict(list)
    for run in composed:
        start, until = spans[run.pour, run.side]
        for code, held in Counter(run.pieces).items():
            changes[code] += [(start, held), (until, -held)]
    return {code: _greatest_sum(steps) for code, steps in changes.items()}


def _greatest_sum(steps: list[tuple[date, int]]) -> int:
    now = most = 0
    for _, change in sorted(steps):
        now += change
        most = max(most, now)
    return most


def gear_cost(request: CoverRequest, composed: tuple[ComposedRun, ...], use: Mapping[str, int]) -> int:
    """Gear cost of a plan in mm: greatest use of each type with handling, and its joints."""
    rules = request.rules
    price = {piece.code: piece.length_mm + rules.piece_handling_mm for piece in request.pieces}
    joints = sum(len(run.pieces) - 1 for run in composed)
    return sum(price[code] * count for code, count in use.items()) + joints * rules.joint_handling_mm
