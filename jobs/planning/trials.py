"""Trial jobs for measuring the cover check: stacks of panels, one seed one job.

A job is stacks of panels cast a level at a time, so many stacks side by side, each starting on a day of its
own; a few panels have a notched corner, whose inside corner makes closed runs. Sides run from 3.6 to 10.2 m.
There are nine lengths of 1 to 6 m with one splayed end and three with none in each section; each pour holds
its gear three days. Stock is a share of what runs composed one by one would need, some of it arriving or
leaving midway.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from jobs.planning.one_by_one import compose_one_by_one, greatest_use
from jobs.planning.request import CoverRequest, PieceType, Rules, Run

SPLAYED = (1000, 1500, 2000, 2500, 3000, 3600, 4200, 5000, 6000)
SQUARE = (1500, 3000, 4500)
FIRST_DAY = date(2027, 3, 1)


@dataclass(frozen=True, slots=True)
class Trial:
    """What kind of job. `share` is stock over one-by-one need (None: ample); `step_mm` what sides are a
    multiple of; `notched` the share of panels with an inside corner; `alike` stacks of one size of panel."""

    panels: int
    seed: int
    share: float | None = None
    moving: bool = False
    sections: tuple[int, ...] = (150,)
    side_by_side: int = 12
    levels: int = 5
    step_mm: int = 100
    notched: float = 0.1
    hold_days: int = 3
    alike: bool = False


def trial_request(trial: Trial) -> CoverRequest:
    """The job that `trial` describes; the same for the same trial."""
    rng = random.Random(trial.seed)
    rules = Rules(100, 900, 3, piece_handling_mm=300, joint_handling_mm=200)
    pieces = tuple(_pieces(trial.sections))
    runs = tuple(_runs(trial, rng))
    request = CoverRequest(rules=rules, pieces=pieces, runs=runs)
    return replace(request, pieces=_stocked(request, trial, rng))


def _pieces(sections: tuple[int, ...]) -> Iterator[PieceType]:
    for section in sections:
        for length in SPLAYED:
            yield PieceType(f"F{section}-{length}", section, length, 1)
        for length in SQUARE:
            yield PieceType(f"M{section}-{length}", section, length, 0)


def _runs(trial: Trial, rng: random.Random) -> Iterator[Run]:
    free = [rng.randrange(trial.hold_days) for _ in range(trial.side_by_side)]
    for made in range(trial.panels):
        stack, level = divmod(made, trial.levels)
        if level == 0:
            place = free.index(min(free))
            section = trial.sections[stack % len(trial.sections)]
        if level == 0 or not trial.alike:
            outline = _sides(_side(trial, rng), _side(trial, rng), rng.random() < trial.notched)
        start = FIRST_DAY + timedelta(free[place])
        free[place] += trial.hold_days
        for side, (length, seats, bounds) in enumerate(outline, 1):
            yield Run(
                pour=f"S{stack + 1}L{level + 1}",
                side=str(side),
                section_mm=section,
                length_mm=length,
                start=start,
                until=start + timedelta(trial.hold_days),
                seats=seats,
                corner_allowance_mm=bounds[0] if bounds else None,
                max_overrun_mm=bounds[1] if bounds else None,
            )


def _side(trial: Trial, rng: random.Random) -> int:
    return rng.randrange(3600, 10200 + 1, trial.step_mm)


def _sides(width: int, height: int, notch: bool) -> list[tuple[int, int, tuple[int, int] | None]]:
    """Each side as length, seats and, for a closed run, its own allowance and overrun."""
    if not notch:
        return [(width, 1, None), (height, 1, None), (width, 1, None), (height, 1, None)]
    across, up = width * 4 // 1000 * 100, height * 4 // 1000 * 100
    closed = (-500, 500)
    return [
        (width, 1, None),
        (height, 1, None),
        (width - across, 1, None),
        (max(up, 1500), 1, closed),
        (max(across, 1500), 0, closed),
        (height - up, 1, None),
    ]


def _stocked(request: CoverRequest, trial: Trial, rng: random.Random) -> tuple[PieceType, ...]:
    need = greatest_use(request, compose_one_by_one(request))
    last = max(run.until for run in request.runs)
    midway = FIRST_DAY + (last - FIRST_DAY) / 2
    stocked = []
    for piece in request.pieces:
        count = 10_000 if trial.share is None else round(need.get(piece.code, 2) * trial.share)
        steps = [(FIRST_DAY, count)]
        if trial.moving and count and trial.share is not None:
            change = max(1, round(count * rng.choice([-0.3, -0.2, 0.2, 0.3])))
            steps = [(FIRST_DAY, count - max(change, 0)), (midway, count - max(-change, 0))]
        stocked.append(replace(piece, on_hand=tuple(steps)))
    return tuple(stocked)
