"""What could be had beyond the stock on hand, and the question asked again as if some of it were.

Days are days on the site: an offer changes what is on hand there on half-open days [start, until).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from jobs.planning.answer import ComposedRun
from jobs.planning.request import CoverRequest, PieceType


@dataclass(frozen=True, slots=True)
class Change:
    """`count` more of a type on hand, fewer if negative, from `start` on; up to `until`, or for good if None."""

    code: str
    count: int
    start: date
    until: date | None = None

    def on(self, day: date) -> int:
        """How many more there are on `day`."""
        return self.count if self.start <= day and (self.until is None or day < self.until) else 0


@dataclass(frozen=True, slots=True)
class Offer:
    """Up to `most` of something may be taken, each at `price`, each making `changes`.

    Offers with the same `pool` share what the pool holds, one each.
    """

    key: str
    price: int
    most: int
    changes: tuple[Change, ...]
    pool: str = ""


def with_taken(request: CoverRequest, offers: Iterable[Offer], taken: Mapping[str, int]) -> CoverRequest:
    """The request as if so many of each offer, by key, were had."""
    changes: defaultdict[str, list[tuple[Change, int]]] = defaultdict(list)
    for offer in offers:
        if taken.get(offer.key):
            for change in offer.changes:
                changes[change.code].append((change, taken[offer.key]))
    codes = {piece.code: piece for piece in request.pieces}
    return request.with_stock({code: _steps(codes[code], made) for code, made in changes.items() if code in codes})


def _steps(piece: PieceType, made: Sequence[tuple[Change, int]]) -> tuple[tuple[date, int], ...]:
    days = {day for day, _ in piece.on_hand}
    for change, _ in made:
        days |= {change.start} | ({change.until} if change.until else set())
    levels = [
        (day, piece.count_on(day) + sum(change.on(day) * times for change, times in made)) for day in sorted(days)
    ]
    return tuple((day, max(0, count)) for day, count in levels)


def days_needed(request: CoverRequest, runs: Sequence[ComposedRun], code: str) -> list[date]:
    """For a plan that uses more of a type than is on hand: the day the first one beyond it is needed, the second ...

    The n-th is needed on the first day that at least n are lacking.
    """
    spans = {(run.pour, run.side): run for run in request.runs}
    piece = next(piece for piece in request.pieces if piece.code == code)
    steps: Counter[date] = Counter(dict.fromkeys((day for day, _ in piece.on_hand), 0))
    for made in runs:
        held = made.pieces.count(code)
        if held:
            steps[spans[made.pour, made.side].start] += held
            steps[spans[made.pour, made.side].until] -= held
    needed: list[date] = []
    used = 0
    for day in sorted(steps):
        used += steps[day]
        if used:
            needed += [day] * (used - piece.count_on(day) - len(needed))
    return needed
