"""Measures the fewest pours to move on trial jobs: python -m tests.bench.moves [panels ...]

A trial job's stock is what it needs at its busiest, as the cover check has it; then a quarter or two fifths of every
type is away for eight days midway, as when another job's gear is late. Each panel is a pour; levels of a stack keep
their order, and two panels a day more may be cast than on the busiest day.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

from jobs.calendars.working import WorkingCalendar
from jobs.planning.cover import check
from jobs.planning.limits import Limits
from jobs.planning.pours import PourTimes
from jobs.planning.remedies.move_pours import Bounds, move_pours
from jobs.planning.remedies.timeline import PlannedPour, Timeline
from jobs.planning.trials import FIRST_DAY, Trial, trial_request

EVERY_DAY = WorkingCalendar(weekdays="1111111")
TIMES = PourTimes(set_days=1, cure_hours=72)
SECONDS = 30.0


def trial(panels: int, seed: int, away: float) -> tuple[Timeline, Bounds]:
    request = trial_request(Trial(panels, seed, None, side_by_side=12, hold_days=4))
    casts = {str(run.pour): run.start + timedelta(days=1) for run in request.runs}
    bare = Timeline(request, tuple(PlannedPour(name, cast) for name, cast in casts.items()), TIMES, EVERY_DAY)
    held = {name: bare.days(name, 0).held for name in casts}
    runs = tuple(replace(r, start=held[str(r.pour)][0], until=held[str(r.pour)][1]) for r in request.runs)
    need = {load.code: load.count for load in check(replace(request, runs=runs), 10.0).load}
    last = max(run.until for run in runs)
    middle = FIRST_DAY + (last - FIRST_DAY) / 2
    stock = {
        code: [
            (date(2027, 1, 1), count),
            (middle, count - max(1, round(count * away))),
            (middle + timedelta(days=8), count),
        ]
        for code, count in need.items()
    }
    names = sorted(casts, key=lambda name: (name.split("L")[0], int(name.split("L")[1])))
    above = tuple((a, b) for a, b in pairwise(names) if a.split("L")[0] == b.split("L")[0])
    busiest = max(Counter(casts.values()).values())
    timeline = replace(bare, request=replace(request, runs=runs).with_stock({**stock}), above=above)
    return timeline, Bounds(FIRST_DAY - timedelta(days=5), panels_a_day=busiest + 2)


def main(arguments: list[str] | None = None) -> None:
    sizes = [int(size) for size in (sys.argv[1:] if arguments is None else arguments)] or [40, 100]
    print("The fewest pours to move, on trial jobs")
    print("| panels | away | seed | seconds | moved | proved least | proved | rounds |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for panels in sizes:
        for away in (0.25, 0.4):
            for seed in (1, 2):
                timeline, bounds = trial(panels, seed, away)
                began = time.perf_counter()
                found = move_pours(timeline, bounds, Limits(seconds=SECONDS))
                took = time.perf_counter() - began
                moved = "none found" if found.shifts is None else len(found.shifts)
                sure = "yes" if found.proved else "no"
                cells = (panels, f"{away:.0%}", seed, f"{took:.1f}", moved, found.least, sure, found.rounds)
                print("| " + " | ".join(map(str, cells)) + " |", flush=True)


if __name__ == "__main__":
    main()
