"""A first set of moves that does: every pour from some day on, all by the same number of working days.

Moved so, no stack and no day's panels change their order, so nothing is broken; then pours are put back one by
one as far as the job stays covered. It is seldom the fewest, but it stands while the fewest are looked for.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from jobs.planning.limits import Limits
from jobs.planning.remedies.trials import Trials

Shifts = Mapping[str, int]


def pushed_back(trials: Trials, later: int, kept: Callable[[Shifts], bool], limits: Limits) -> dict[str, int]:
    """Moves with which the job is covered and `kept` holds, or none. Pours that are fixed stay."""
    movable = sorted((p for p in trials.timeline.pours if not p.fixed), key=lambda pour: (pour.cast, pour.name))
    starts = sorted({pour.cast for pour in movable})

    def does(shifts: Shifts) -> bool:
        return kept(shifts) and trials.of(shifts, limits).covered

    for days in range(1, later + 1):
        if limits.over():
            return {}
        limits.tell(0.9, f"Trying to move all that follows {days} working day{'s' if days > 1 else ''} later")
        if not does({pour.name: days for pour in movable}):
            continue
        first, last = 0, len(starts) - 1
        while first < last and not limits.over():
            middle = (first + last + 1) // 2
            if does({pour.name: days for pour in movable if pour.cast >= starts[middle]}):
                first = middle
            else:
                last = middle - 1
        found = {pour.name: days for pour in movable if pour.cast >= starts[first]}
        return put_back(found, does, limits)
    return {}


def put_back(found: dict[str, int], does: Callable[[Shifts], bool], limits: Limits) -> dict[str, int]:
    """The same without the pours that need not move, as many at a time as can be."""
    size = max(1, len(found) // 2)
    while size and not limits.over():
        names = list(found)
        for at in range(0, len(names), size):
            fewer = {name: days for name, days in found.items() if name not in names[at : at + size]}
            if fewer and does(fewer):
                found = fewer
            if limits.over():
                break
        size //= 2
    return found
