"""Replan together: jobs accepted but not sent yet have their runs composed anew beside the one that is short.

Each of the others holds a number of each type from one delivery to the next, and until its gear is back and
clean: gear does not hop between sites from pour to pour. The deliveries keep their days. Of all ways that make
everything fit, the one that changes the load lists least, in mm of form; or, where that wants plates that are not
there, the one of the fewest joints. First with choices left fractional: what that cannot do, nothing can. The numbers
it gives are then settled by the cover check, job by job.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from jobs.planning.answer import ComposedRun, CoverAnswer
from jobs.planning.availability import Steps
from jobs.planning.limits import Limits
from jobs.planning.remedies.composing import DEAR_JOINT_MM, covered_within, fewest_joints
from jobs.planning.remedies.replan_board import Held, JointBoard, level_on
from jobs.planning.request import CoverRequest


@dataclass(frozen=True)
class OtherJob:
    """A job whose load lists may change. `request` asks for its runs; `trucks` are its deliveries as (day loaded,
    first day of use), in order; `back` is the day its gear is back and clean. `present` are what each truck brings
    the number of a type to, by code."""

    name: str
    request: CoverRequest
    trucks: tuple[tuple[date, date], ...]
    back: date
    present: Mapping[str, tuple[int, ...]]


@dataclass(frozen=True)
class Together:
    """The new job's request, the others, and `free`: by code, steps (day, number) of what the yard has beside what
    any other job has claimed. `windows` give, for each day of use of the new job, the half-open days on which the
    yard must be without it."""

    request: CoverRequest
    others: tuple[OtherJob, ...]
    free: Mapping[str, Steps]
    windows: Mapping[date, tuple[date, date]]


@dataclass(frozen=True)
class NewLoads:
    """One job's new numbers after each truck, by code, and the plan that keeps to them."""

    job: OtherJob
    held: Mapping[str, tuple[int, ...]]
    request: CoverRequest
    answer: CoverAnswer


@dataclass(frozen=True)
class ReplanAnswer:
    """The new load lists with which all fit; None where there are none. `proved`: surely, whatever is composed.
    `runs` are those of the new job within what the others leave."""

    loads: tuple[NewLoads, ...] | None
    proved: bool
    changed_mm: int = 0
    runs: tuple[ComposedRun, ...] = ()


def replan(asked: Together, limits: Limits) -> ReplanAnswer:
    """New load lists for jobs not sent yet with which they and the new job are covered."""
    return _replanned(asked, limits, covered_within)


def of_fewest_joints(asked: Together, limits: Limits) -> ReplanAnswer:
    """The same with the fewest joints of all such load lists, however much they change: where plates are what is
    short. `proved` says only that there is one, or none."""
    return _replanned(asked, limits, fewest_joints, DEAR_JOINT_MM)


def _replanned(
    asked: Together, limits: Limits, compose: Callable[[CoverRequest, Limits], CoverAnswer], joint_mm: float = 0.0
) -> ReplanAnswer:
    if not asked.others:
        return ReplanAnswer(None, True)
    board = JointBoard(
        asked.request,
        [Held(job.request, job.trucks, job.back, job.present) for job in asked.others],
        asked.free,
        asked.windows,
        joint_mm,
    )
    for whole in (False, True):
        found = board.solve(limits.within(0.4), whole=whole)
        if found.none:
            return ReplanAnswer(None, True)
        if found.held is not None:
            settled = _settled(asked, found.held, limits, compose)
            if settled is not None:
                loads, runs = settled
                return ReplanAnswer(loads, True, _changed(asked, found.held), runs)
    return ReplanAnswer(None, False)


def recomposed(asked: Together, held: Mapping[str, Mapping[str, tuple[int, ...]]], limits: Limits) -> ReplanAnswer:
    """The same load lists with runs of the fewest joints. `held` are the numbers found, by job and code; a job that is
    not there holds what it does at present."""
    levels = [held.get(job.name, job.present) for job in asked.others]
    settled = _settled(asked, levels, limits, fewest_joints)
    if settled is None:
        return ReplanAnswer(None, False)
    loads, runs = settled
    return ReplanAnswer(loads, True, _changed(asked, levels), runs)


def _settled(
    asked: Together,
    held: Sequence[Mapping[str, tuple[int, ...]]],
    limits: Limits,
    compose: Callable[[CoverRequest, Limits], CoverAnswer],
) -> tuple[tuple[NewLoads, ...], tuple[ComposedRun, ...]] | None:
    """Each job's plan within its numbers, and the new job's within what they leave; None where one is not covered."""
    left = compose(with_left(asked, held), limits)
    if not left.covered:
        return None
    loads = []
    for job, mine in zip(asked.others, held, strict=True):
        request = job.request.with_stock({code: _steps(job, levels) for code, levels in mine.items()})
        answer = compose(request, limits)
        if not answer.covered:
            return None
        loads.append(NewLoads(job, mine, replace(request, ask="plan"), answer))
    return tuple(loads), left.runs


def _steps(job: OtherJob, levels: Sequence[int]) -> list[tuple[date, int]]:
    """What is on the job's site from the first use of each truck on."""
    return [(used, level) for (_, used), level in zip(job.trucks, levels, strict=True)]


def with_left(asked: Together, held: Sequence[Mapping[str, tuple[int, ...]]]) -> CoverRequest:
    """The new job's request with what the others, holding so much, leave for it."""
    stock = {}
    for piece in asked.request.pieces:
        levels = []
        for day, (first, until) in sorted(asked.windows.items()):
            changes = [first, *(d for d in _days(asked, piece.code) if first < d < until)]
            levels.append((day, min(_left(asked, held, piece.code, each) for each in changes)))
        stock[piece.code] = levels
    return asked.request.with_stock({code: list(steps) for code, steps in stock.items()})


def _days(asked: Together, code: str) -> list[date]:
    days = {day for day, _ in asked.free.get(code, ())}
    for job in asked.others:
        days |= {load for load, _ in job.trucks} | {job.back}
    return sorted(days)


def _left(asked: Together, held: Sequence[Mapping[str, tuple[int, ...]]], code: str, day: date) -> int:
    taken = sum(
        level_on([(load, level) for (load, _), level in zip(job.trucks, mine.get(code, ()), strict=False)], day)
        for job, mine in zip(asked.others, held, strict=True)
        if day < job.back
    )
    return max(0, level_on(asked.free.get(code, ()), day) - taken)


def _changed(asked: Together, held: Sequence[Mapping[str, tuple[int, ...]]]) -> int:
    """How much the load lists change, in mm of form."""
    changed = 0
    for job, mine in zip(asked.others, held, strict=True):
        for piece in job.request.pieces:
            now = job.present.get(piece.code, (0,) * len(job.trucks))
            then = mine.get(piece.code, (0,) * len(job.trucks))
            changed += piece.length_mm * abs(max(then, default=0) - max(now, default=0))
    return changed
