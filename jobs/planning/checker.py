"""An independent checker of a cover check's plan and answer. Shares no code with the search.

It reads the request and the answer as plain values, walks day by day over every day on which anything
changes, and says in sentences what is wrong. A page may only say "covered" of a plan that passes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from jobs.planning.answer import ComposedRun, CoverAnswer, Impossible
from jobs.planning.request import CoverRequest, PieceType, Rules, Run


@dataclass(frozen=True, slots=True)
class Measures:
    """What a plan comes to: load and short by code in the order of the request, shortage and cost in mm."""

    load: tuple[tuple[str, int], ...]
    short: tuple[tuple[str, int, date], ...]
    short_mm: int
    cost_mm: int


def faults_of(
    request: CoverRequest, composed: Sequence[ComposedRun], impossible: Sequence[Impossible] = ()
) -> list[str]:
    """What is wrong with a plan, whatever it lacks: every run made once or listed, every run made legally."""
    faults = []
    types = {piece.code: piece for piece in request.pieces}
    runs = {(run.pour, run.side): run for run in request.runs}
    times = Counter([(made.pour, made.side) for made in composed])
    times.update((run.pour, run.side) for run in impossible)
    for pour, side in runs:
        if times[pour, side] != 1:
            faults.append(f"pour {pour} side {side} is answered {times[pour, side]} times")
    for pour, side in times:
        if (pour, side) not in runs:
            faults.append(f"pour {pour} side {side} was not asked for")
    for made in composed:
        run = runs.get((made.pour, made.side))
        if run is not None:
            where = f"pour {made.pour} side {made.side}"
            faults += [f"{where}: {fault}" for fault in _run_faults(request.rules, types, run, made.pieces)]
    return faults


def _run_faults(rules: Rules, types: dict[str, PieceType], run: Run, codes: Sequence[str]) -> list[str]:
    unknown = [code for code in codes if code not in types]
    if unknown:
        return [f"{unknown[0]} is not in the list of pieces"]
    if not codes:
        return ["it has no pieces"]
    pieces = [types[code] for code in codes]
    faults = []
    if any(piece.section_mm != run.section_mm for piece in pieces):
        faults.append("a piece is of another section")
    if len(pieces) > rules.max_pieces_per_run:
        faults.append(f"{len(pieces)} pieces are more than {rules.max_pieces_per_run}")
    allowance = rules.corner_allowance_mm if run.corner_allowance_mm is None else run.corner_allowance_mm
    overrun = rules.max_overrun_mm if run.max_overrun_mm is None else run.max_overrun_mm
    total = sum(piece.length_mm for piece in pieces)
    if total < run.length_mm + allowance:
        faults.append(f"{total} mm is less than {run.length_mm + allowance} mm")
    if total > run.length_mm + allowance + overrun:
        faults.append(f"{total} mm is more than {run.length_mm + allowance + overrun} mm")
    if rules.ends == "splayed" and not _ends_can_meet(pieces, run.seats):
        faults.append("its ends do not seat and meet")
    return faults


def _ends_can_meet(pieces: Sequence[PieceType], seats: int) -> bool:
    """Whether the pieces, in this order from the seat and each turned either way round, have square joints
    and a splayed end wherever the run seats."""
    ways = [_turns(piece) for piece in pieces]
    last = len(pieces) - 1
    for at, turns in enumerate(ways):
        fits = [
            (near, far)
            for near, far in turns
            if (near == "square" if at else near == "splayed" or seats == 0)
            and (far == "square" if at < last else far == "splayed" or seats < 2)
        ]
        if not fits:
            return False
    return True


def _turns(piece: PieceType) -> list[tuple[str, str]]:
    if piece.splayed_ends == 2:
        return [("splayed", "splayed")]
    if piece.splayed_ends == 1:
        return [("splayed", "square"), ("square", "splayed")]
    return [("square", "square")]


def measures_of(request: CoverRequest, composed: Sequence[ComposedRun]) -> Measures:
    """Greatest use, greatest lack and its first day, shortage and gear cost, day by day."""
    runs = {(run.pour, run.side): run for run in request.runs}
    held: dict[str, list[tuple[date, date, int]]] = {piece.code: [] for piece in request.pieces}
    for made in composed:
        run = runs[made.pour, made.side]
        for code, times in Counter(made.pieces).items():
            held[code].append((run.start, run.until, times))
    load, short = [], []
    short_mm = 0
    cost_mm = request.rules.joint_handling_mm * sum(len(made.pieces) - 1 for made in composed)
    for piece in request.pieces:
        use = _daily(held[piece.code], [day for day, _ in piece.on_hand])
        most = max((count for _, count in use), default=0)
        lacks = [(count - _on_hand(piece, day), day) for day, count in use if count]
        lack = max((short_by for short_by, _ in lacks), default=0)
        if most:
            load.append((piece.code, most))
            cost_mm += most * (piece.length_mm + request.rules.piece_handling_mm)
        if lack > 0:
            first = min(day for short_by, day in lacks if short_by > 0)
            short.append((piece.code, lack, first))
            short_mm += lack * piece.length_mm
    return Measures(tuple(load), tuple(short), short_mm, cost_mm)


def _daily(held: Iterable[tuple[date, date, int]], changes: Iterable[date]) -> list[tuple[date, int]]:
    """(day, number in use from that day) on each day that anything changes."""
    steps: Counter[date] = Counter(dict.fromkeys(changes, 0))
    for start, until, times in held:
        steps[start] += times
        steps[until] -= times
    use, now = [], 0
    for day in sorted(steps):
        now += steps[day]
        use.append((day, now))
    return use


def _on_hand(piece: PieceType, day: date) -> int:
    count = 0
    for since, number in piece.on_hand:
        if since <= day:
            count = number
    return count


def check_answer(request: CoverRequest, answer: CoverAnswer) -> list[str]:
    """Everything wrong with an answer: its plan, its figures, and what it claims. Empty when it is sound."""
    faults = faults_of(request, answer.runs, answer.impossible)
    if faults:
        return faults
    found = measures_of(request, answer.runs)
    said_short = tuple((item.code, item.count, item.first) for item in answer.short)
    figures = [
        ("load", tuple((item.code, item.count) for item in answer.load), found.load),
        ("short", said_short, found.short),
        ("short_mm", answer.short_mm, found.short_mm),
        ("cost_mm", answer.cost_mm, found.cost_mm),
        ("covered", answer.covered, not answer.impossible and found.short_mm == 0),
    ]
    faults += [f"{name} is {said} and should be {right}" for name, said, right in figures if said != right]
    if answer.short_bound_mm > answer.short_mm:
        faults.append("the bound on shortage is above the shortage")
    if answer.cost_bound_mm is not None and answer.cost_bound_mm > answer.cost_mm:
        faults.append("the bound on cost is above the cost")
    return faults
