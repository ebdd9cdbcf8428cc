"""Wait: the earliest start of the whole job that is covered, every pour moved by as many working days.

Start after start is checked, soonest first, so that the first that is covered is the earliest, if each one
before it is proved not to be. Where even the most there will ever be on hand is proved too little, no start is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from jobs.planning.answer import CoverAnswer
from jobs.planning.cover import check
from jobs.planning.limits import Limits
from jobs.planning.remedies.articles import Article
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.request import CoverRequest, PieceType

_A_CHECK = 6.0


@dataclass(frozen=True, slots=True)
class WaitAnswer:
    """`days` working days later the job is covered; None where no start looked at is.

    `proved`: no earlier start is covered, or none within `looked` days. `start` and `until` are the first day
    that gear is set and the first day that all is free, if it waits.
    """

    days: int | None
    proved: bool
    looked: int
    start: date | None = None
    until: date | None = None


def wait(timeline: Timeline, longest: int, limits: Limits) -> WaitAnswer:
    """The least wait, of at most `longest` working days, with which the job is covered."""
    if _never(timeline, limits):
        return WaitAnswer(None, True, longest)
    movable = [pour.name for pour in timeline.pours if not pour.fixed]
    proved = True
    for days in range(1, longest + 1):
        if limits.over():
            return WaitAnswer(None, False, days - 1)
        limits.tell(days / longest, f"Looking at a start {days} working day{'s' if days > 1 else ''} later")
        shifts = dict.fromkeys(movable, days)
        if timeline.goods_lack(shifts):
            continue
        asked = timeline.moved(shifts)
        answer = covered_within(asked, limits)
        if answer.covered:
            spans = [(run.start, run.until) for run in asked.runs]
            return WaitAnswer(days, proved, days, min(start for start, _ in spans), max(end for _, end in spans))
        proved = proved and answer.proved
    return WaitAnswer(None, proved, longest)


def covered_within(request: CoverRequest, limits: Limits, most_seconds: float = _A_CHECK) -> CoverAnswer:
    """Whether a request is covered, asked within the limits and no longer than one check may take."""
    left = limits.left()
    seconds = None if left == float("inf") else min(left, most_seconds)
    cancelled: Callable[[], bool] | None = limits.watch.called_off if limits.watch else None
    return check(replace(request, ask="covered"), seconds, None, cancelled)


def _never(timeline: Timeline, limits: Limits) -> bool:
    """Whether some pour is proved too much even alone for the most of each type there ever is: no start helps then.

    Of what is used up all pours together take from the most there ever is. Each pour is put on a day of its own,
    since how two of them overlap can change as they are moved over weekends.
    """
    if any(_never_enough(article) for article in timeline.articles):
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
    return most + article.standing > max((count for _, count in article.stock), default=0)


def _at_its_most(piece: PieceType) -> PieceType:
    most = max((count for _, count in piece.on_hand), default=0)
    return replace(piece, on_hand=((date.min, most),))
