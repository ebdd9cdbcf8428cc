"""Chase: gear that other jobs hold past its day, or soon must give back, that would turn the answer.

Gear held past its day counts as none, and gear that is due counts from when it would be back, counted and
clean. Asked back now it could be there sooner. Fewest pieces come first; of as many, overdue ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from jobs.planning.limits import Limits
from jobs.planning.remedies.extras import Taken, least_price
from jobs.planning.remedies.offers import Change, Offer, days_needed
from jobs.planning.request import CoverRequest


@dataclass(frozen=True, slots=True)
class Held:
    """So many of a type on another job. Sent back now they can be on our site from `start`; else from `until`,
    or never if None: they are overdue."""

    holder: str
    code: str
    count: int
    start: date
    until: date | None = None


@dataclass(frozen=True, slots=True)
class AskBack:
    """So many of a type to ask back from a job; the first is needed on our site on `day`."""

    holder: str
    code: str
    count: int
    day: date


@dataclass(frozen=True)
class ChaseAnswer:
    """What to ask back, soonest first. `found.price` counts the pieces."""

    found: Taken
    lines: tuple[AskBack, ...]


def chase(request: CoverRequest, held: Sequence[Held], limits: Limits) -> ChaseAnswer:
    """The fewest pieces held by others with which the request is covered."""
    useful = [each for each in held if each.count and (each.until is None or each.start < each.until)]
    one = sum(each.count for each in useful) + 1
    offers = [
        Offer(str(at), one + (each.until is not None), each.count, (Change(each.code, 1, each.start, each.until),))
        for at, each in enumerate(useful)
    ]
    found = least_price(request, offers, limits)
    total = sum(found.taken.values())
    bound = total if found.proved else -(-found.bound // (one + 1))
    counted = Taken(found.turns, found.proved, found.taken, total, bound, found.runs)
    lines = [
        AskBack(each.holder, each.code, found.taken[str(at)], _day(request, found, each))
        for at, each in enumerate(useful)
        if found.taken.get(str(at))
    ]
    return ChaseAnswer(counted, tuple(sorted(lines, key=lambda line: (line.day, line.holder, line.code))))


def _day(request: CoverRequest, found: Taken, each: Held) -> date:
    needed = days_needed(request, found.runs, each.code)
    return max(each.start, needed[0]) if needed else each.start
