"""The least price of offers that turns an answer: what cleaning, chasing, buying and cutting down share.

Each short section is solved alone. First with the choices of runs left fractional: what that cannot reach,
nothing can, and its price is a proved bound. The cover check then says whether that little is enough in whole
pieces, which it nearly always is. Where it is not, the whole program is solved; and where that takes too long,
offers are added for what the check still finds lacking. So an answer says whether its price is proved least.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from jobs.planning.answer import ComposedRun, CoverAnswer
from jobs.planning.checker import faults_of, measures_of
from jobs.planning.cover import check
from jobs.planning.limits import Limits
from jobs.planning.remedies.board import Board, Outcome
from jobs.planning.remedies.offers import Offer, with_taken
from jobs.planning.request import CoverRequest

_TINY = 1e-6
_ROUNDS = 8


@dataclass(frozen=True)
class Taken:
    """What was found. `turns`: the job is covered with what is taken, as the independent checker passed.

    `price` is what is taken comes to, `bound` the least that any choice could. `proved`: where it turns, that no
    choice is cheaper; where it does not, that no choice turns it. `without` names what stays short. `needed`: of
    articles that are made up for, by code, the day the first beyond the stock is needed, the second, and so on.
    """

    turns: bool
    proved: bool
    taken: Mapping[str, int]
    price: int
    bound: int
    runs: tuple[ComposedRun, ...] = ()
    without: tuple[str, ...] = ()
    needed: Mapping[str, tuple[date, ...]] = field(default_factory=dict)


def coverable(request: CoverRequest, answer: CoverAnswer) -> CoverRequest:
    """The part of a request that gear can remedy: the short sections, without runs that no type can make."""
    gone = {(run.pour, run.side) for run in answer.impossible}
    codes = {item.code for item in answer.short}
    sections = {piece.section_mm for piece in request.pieces if piece.code in codes}
    return replace(
        request,
        ask="covered",
        pieces=tuple(piece for piece in request.pieces if piece.section_mm in sections),
        runs=tuple(r for r in request.runs if r.section_mm in sections and (r.pour, r.side) not in gone),
    )


def least_price(
    request: CoverRequest, offers: Sequence[Offer], limits: Limits, pools: Mapping[str, int] | None = None
) -> Taken:
    """The cheapest offers with which `request`, as `coverable` gives it, is covered; section by section."""
    parts = []
    sections = sorted({run.section_mm for run in request.runs})
    for at, section in enumerate(sections):
        pieces = tuple(piece for piece in request.pieces if piece.section_mm == section)
        codes = {piece.code for piece in pieces}
        part = replace(request, pieces=pieces, runs=tuple(r for r in request.runs if r.section_mm == section))
        mine = [offer for offer in offers if any(change.code in codes for change in offer.changes)]
        parts.append(_least_of_section(part, mine, pools or {}, limits.within(1 / (len(sections) - at))))
        if not parts[-1].turns:
            return replace(parts[-1], taken={}, price=0, runs=())
    return together(parts)


def together(parts: Sequence[Taken]) -> Taken:
    """Parts that turn, each by itself, as one."""
    return Taken(
        turns=True,
        proved=all(part.proved for part in parts),
        taken={key: count for part in parts for key, count in part.taken.items()},
        price=sum(part.price for part in parts),
        bound=sum(part.bound for part in parts),
        runs=tuple(run for part in parts for run in part.runs),
        needed={code: days for part in parts for code, days in part.needed.items()},
    )


def _least_of_section(
    request: CoverRequest, offers: Sequence[Offer], pools: Mapping[str, int], limits: Limits
) -> Taken:
    board = Board(request, offers, pools)
    relaxed = board.solve(limits.within(0.4), whole=False) if offers else Outcome()
    if relaxed.none:
        return Taken(False, True, {}, 0, 0)
    bound = _whole(relaxed.bound)
    if relaxed.taken is not None:
        answer = _checked(request, offers, relaxed.taken, limits.within(0.5))
        if answer.covered:
            return _taken(offers, relaxed.taken, bound, answer.runs)
    found = board.solve(limits.within(0.7), whole=True)
    if found.none:
        return Taken(False, True, {}, 0, 0)
    bound = max(bound, _whole(found.bound))
    if found.taken is not None and found.runs and _covers(request, offers, found.taken, found.runs):
        return _taken(offers, found.taken, bound, found.runs)
    return _added_to(request, offers, pools, Counter(relaxed.taken or {}), bound, limits)


def _whole(bound: float) -> int:
    return max(0, math.ceil(bound - _TINY * max(1.0, abs(bound))))


def _taken(offers: Sequence[Offer], taken: Mapping[str, int], bound: int, runs: tuple[ComposedRun, ...]) -> Taken:
    price = sum(offer.price * taken.get(offer.key, 0) for offer in offers)
    return Taken(True, price <= bound, dict(taken), price, min(bound, price), runs)


def _checked(request: CoverRequest, offers: Sequence[Offer], taken: Mapping[str, int], limits: Limits) -> CoverAnswer:
    seconds = None if limits.left() == float("inf") else limits.left()
    watch = limits.watch
    return check(with_taken(request, offers, taken), seconds, None, watch.called_off if watch else None)


def _covers(
    request: CoverRequest, offers: Sequence[Offer], taken: Mapping[str, int], runs: Sequence[ComposedRun]
) -> bool:
    """Whether a plan passes the independent checker with what is taken."""
    asked = with_taken(request, offers, taken)
    return not faults_of(asked, runs) and measures_of(asked, runs).short_mm == 0


def _added_to(
    request: CoverRequest,
    offers: Sequence[Offer],
    pools: Mapping[str, int],
    taken: Counter[str],
    bound: int,
    limits: Limits,
) -> Taken:
    """Cheapest offers added for what the check finds lacking, as often as it takes: found, not proved least."""
    for _ in range(_ROUNDS):
        if limits.over():
            break
        answer = _checked(request, offers, taken, limits.within(0.5))
        if answer.covered:
            return _taken(offers, taken, bound, answer.runs)
        if not sum(_add(item.code, item.count, offers, pools, taken) for item in answer.short):
            break
    return Taken(False, False, {}, 0, bound)


def _add(code: str, count: int, offers: Sequence[Offer], pools: Mapping[str, int], taken: Counter[str]) -> int:
    """Take up to `count` more of a type, the cheapest first; how many were."""
    added = 0
    for offer in sorted(offers, key=lambda each: each.price):
        if all(change.code != code or change.count < 1 for change in offer.changes):
            continue
        room = offer.most - taken[offer.key]
        if offer.pool:
            room = min(room, pools[offer.pool] - sum(taken[o.key] for o in offers if o.pool == offer.pool))
        more = min(room, count - added)
        taken[offer.key] += more
        added += more
    return added
