"""Wait: the earliest start of the whole job that is covered, every pour moved by as many working days.

Start after start is checked, soonest first, so that the first that is covered is the earliest, if each one
before it is proved not to be. Where even the most there will ever be on hand is proved too little, no start is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from jobs.planning.answer import ComposedRun
from jobs.planning.limits import Limits
from jobs.planning.remedies.articles import Article
from jobs.planning.remedies.composing import covered_within
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.remedies.trials import Trials
from jobs.planning.request import PieceType


@dataclass(frozen=True, slots=True)
class WaitAnswer:
    """`days` working days later the job is covered; None where no start looked at is.

    `proved`: no earlier start is covered, or none within `looked` days. `start` and `until` are the first day
    that gear is set and the first day that all is free, if it waits; `runs` are composed for those days.
    """

    days: int | None
    proved: bool
    looked: int
    start: date | None = None
    until: date | None = None
    runs: tuple[ComposedRun, ...] = ()


def wait(timeline: Timeline, longest: int, limits: Limits) -> WaitAnswer:
    """The least wait, of at most `longest` working days, with which the job is covered."""
    if _never(timeline, limits):
        return WaitAnswer(None, True, longest)
    movable = [pour.name for pour in timeline.pours if not pour.fixed]
    trials, proved = Trials(timeline), True
    for days in range(1, longest + 1):
        if limits.over():
            return WaitAnswer(None, False, days - 1)
        limits.tell(days / longest, f"Looking at a start {days} working day{'s' if days > 1 else ''} later")
        shifts = dict.fromkeys(movable, days)
        trial = trials.of(shifts, limits)
        if trial.covered:
            spans = [(run.start, run.until) for run in timeline.moved(shifts).runs]
            first, last = min(start for start, _ in spans), max(end for _, end in spans)
            return WaitAnswer(days, proved, days, first, last, trial.runs)
        proved = proved and trial.proved
    return WaitAnswer(None, proved, longest)


def _never(timeline: Timeline, limits: Limits) -> bool:
    """Whether some pour is proved too much even alone for the most of each type there ever is: no start helps then.

    Of what is used up all pours together take from the most there ever is. Each pour is put on a day of its own,
    since how two of them overlap can change as they are moved over weekends.
    """
    if any(_never_enough(article) for article in timeline.least):
        return True
    request = timeline.request
    order = {name: date.min + timedelta(days=at) for at, name in enumerate(timeline.runs_of)}
    alone = tuple(
        replace(run, start=order[str(run.pour)], until=order[str(run.pour)] + timedelta(days=1)) for run in request.runs
    )
    ample = replace(request, runs=alone, pieces=tuple(_at_its_most(piece) for piece in request.pieces))
    answer = covered_within(ample, limits)
    return answer.proved and not answer.covered


def _never_enough(article: Article) -> bool:
    needs = [quantity for _, quantity in article.by_pour]
    most = sum(needs) if article.used_up else max(needs, default=Decimal(0))
    return most + article.standing > max((0, *(count for _, count in article.stock)))


def _at_its_most(piece: PieceType) -> PieceType:
    most = max((count for _, count in piece.on_hand), default=0)
    return replace(piece, on_hand=((date.min, most),))
