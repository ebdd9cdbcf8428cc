"""Fewer moves from moves that do: the master solved again for the pours that move, then with more and more of the
pours next to them in time let move as well.

With most pours held where they are it is solved in a moment, and starts from moves that are covered. Each set that it
finds is held to the day prices, then checked; where whole pieces keep a few of them from being covered, some room is
left. What is found is covered and keeps all that the master keeps; that it is the fewest is not proved here.
"""

from __future__ import annotations

from jobs.planning.limits import Limits
from jobs.planning.remedies.move_master import Master
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.remedies.trials import Trials

# How many pours beside those that move may move too, and what room is left after each set that was not covered.
_BESIDE = (0, 10, 20, 40, 80, 1_000_000)
_ROOM = (0.0, 0.004, 0.01, 0.02)


def fewer_moves(trials: Trials, master: Master, shifts: dict[str, int], limits: Limits) -> dict[str, int]:
    """Moves as few as were found within the limits; `shifts` if none were fewer."""
    wider = failures = 0
    while wider < len(_BESIDE) and not limits.over():
        only = {*shifts, *_next_to(trials.timeline, shifts, _BESIDE[wider])}
        room, seconds = _ROOM[failures], limits.left() * 0.3
        found = master.solve(limits, whole=True, eased=room, seconds=seconds, only=only, days_too=False, start=shifts)
        moves = {} if found.values is None else master.shifts_of(found.values)
        if found.values is None or len(moves) >= len(shifts):
            wider, failures = wider + 1, 0
            continue
        limits.tell(0.9, f"Trying to move {len(moves)} pours, not {len(shifts)}")
        if master.learn(found.values.round(), 0.5, limits):
            continue
        if trials.of(moves, limits).covered:
            shifts, wider, failures = moves, 0, 0
        elif failures + 1 < len(_ROOM):
            master.rule_out(found.values)
            failures += 1
        else:
            wider, failures = wider + 1, 0
    return shifts


def _next_to(timeline: Timeline, shifts: dict[str, int], count: int) -> list[str]:
    """So many pours that do not move, nearest in time to the middle of those that do."""
    moved = sorted(timeline.by_name[name].cast for name in shifts)
    middle = moved[len(moved) // 2]
    others = [pour for pour in timeline.pours if pour.name not in shifts and not pour.fixed]
    others.sort(key=lambda pour: (abs((pour.cast - middle).days), pour.name))
    return [pour.name for pour in others[:count]]
