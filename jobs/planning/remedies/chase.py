"""Chase: gear that other jobs hold past its day, or soon must give back, that would turn the answer.

Gear held past its day counts as none, and gear that is due counts from when it would be back, counted and
clean. Asked back now it could be there sooner. Fewest pieces come first; of as many, overdue ones.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from jobs.planning.limits import Limits
from jobs.planning.remedies.extras import Taken
from jobs.planning.remedies.offers import Change, Offer
from jobs.planning.remedies.shortage import Shortage, first_day


@dataclass(frozen=True, slots=True)
class Held:
    """So many of a type on another job. Sent back now they can be on our site from `start`; else from `until`,
    or never if None: they are overdue. `tags` are theirs, those easiest to part with first; fewer where not known."""

    holder: str
    code: str
    count: int
    start: date
    until: date | None = None
    tags: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class AskBack:
    """So many of a type to ask back from a job; the first is needed on our site on `day`."""

    holder: str
    code: str
    count: int
    day: date
    tags: tuple[str, ...] = ()


@dataclass(frozen=True)
class ChaseAnswer:
    """What to ask back, soonest first. `found.price` counts the pieces."""

    found: Taken
    lines: tuple[AskBack, ...]


def chase(shortage: Shortage, held: Sequence[Held], limits: Limits) -> ChaseAnswer:
    """The fewest pieces held by others with which nothing is lacking."""
    mine = useful(held)
    one = sum(each.count for each in mine) + 1
    found = shortage.least_price(offers_to_chase(mine, lambda each: one + (each.until is not None)), limits)
    total = sum(found.taken.values())
    bound = total if found.proved else -(-found.bound // (one + 1))
    counted = Taken(found.turns, found.proved, found.taken, total, bound, found.runs, found.without)
    return ChaseAnswer(counted, ask_back(shortage, found, mine))


def useful(held: Sequence[Held]) -> list[Held]:
    """What would be there sooner if it were asked back."""
    return [each for each in held if each.count and (each.until is None or each.start < each.until)]


def offers_to_chase(held: Sequence[Held], price: Callable[[Held], int]) -> list[Offer]:
    """Each as an offer, keyed `back|n` by its place."""
    return [
        Offer(f"back|{at}", price(each), each.count, (Change(each.code, 1, each.start, each.until),))
        for at, each in enumerate(held)
    ]


def ask_back(shortage: Shortage, found: Taken, held: Sequence[Held]) -> tuple[AskBack, ...]:
    """What of it was taken, soonest first."""
    lines = []
    for at, each in enumerate(held):
        count = found.taken.get(f"back|{at}")
        if count:
            day = first_day(shortage, found, each.code, each.start)
            lines.append(AskBack(each.holder, each.code, count, day, each.tags[:count]))
    return tuple(sorted(lines, key=lambda line: (line.day, line.holder, line.code)))
