"""Does the stock cover the cut list: the one question asked from outside of this package.

`check` splits a request by section (sections share nothing), searches each, lists each run's pieces from the
seat, and has the independent checker pass the plan before "covered" is said of it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, replace

from jobs.planning.answer import (
    PROVED_GAP,
    ComposedRun,
    CoverAnswer,
    Impossible,
    Load,
    Short,
    gap_between,
)
from jobs.planning.beside import second_hand
from jobs.planning.checker import faults_of, measures_of
from jobs.planning.limits import Limits, Progress, Watch
from jobs.planning.model import Section, section_of
from jobs.planning.patterns import from_the_seat
from jobs.planning.reasons import reason_impossible
from jobs.planning.request import CoverRequest, PieceType, Run
from jobs.planning.standing import SectionPlan
from jobs.planning.team import Hand

_KEPT_BACK = 0.2
_KEPT_BACK_A_RUN = 1e-4


class PlanFault(Exception):
    """The checker found the search's plan unsound: a fault in this program, never in the request."""


@dataclass(frozen=True)
class Part:
    """One section, solved: `plan` is None where it has no run that can be made."""

    section: Section
    plan: SectionPlan | None


def check(
    request: CoverRequest,
    seconds: float | None = None,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
    *,
    alone: bool = False,
) -> CoverAnswer:
    """The answer to a cover check: a plan, what it lacks and costs, and proved bounds on both.

    Stops at a proof, at `seconds` of clock, at work limits where no seconds are given (then the same request
    gives the same answer), or when `cancelled()` turns true; always with the best plan found.
    `progress(share, words)` is told how far it is. Where seconds are given a process beside searches too unless
    `alone`: then which plan is found first may differ from time to time.
    """
    limits = replace(limits_for(seconds, progress, cancelled, len(request.runs)), steady=alone)
    answer = answer_of(request, solve(request, limits, alone=alone), limits)
    limits.tell(1.0, "Done")
    return answer


def _only_forward(progress: Progress) -> Progress:
    """Progress that never goes back, whatever is tried again."""
    furthest = 0.0

    def tell(share: float, words: str) -> None:
        nonlocal furthest
        furthest = max(furthest, share)
        progress(furthest, words)

    return tell


def limits_for(
    seconds: float | None,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
    runs: int = 0,
) -> Limits:
    """Limits that leave time to list and check a plan of so many runs within `seconds`."""
    kept_back = _KEPT_BACK + _KEPT_BACK_A_RUN * runs
    return Limits(
        seconds=None if seconds is None else max(seconds - kept_back, seconds * 0.5),
        progress=None if progress is None else _only_forward(progress),
        watch=None if cancelled is None else Watch(cancelled),
    )


def solve(request: CoverRequest, limits: Limits, *, alone: bool = False) -> list[Part]:
    """Each section of the request, searched by two hands side by side where that is worth it."""
    sections = list(sections_of(request))
    with nullcontext() if alone else second_hand(sections, request.ask, limits) as line:
        plans = Hand(sections, request.ask, limits, line).plans()
    limits.tell(0.95, "Checking the plan")
    return [Part(section, plan) for section, plan in zip(sections, plans, strict=True)]


def sections_of(request: CoverRequest) -> Iterator[Section]:
    """The request's sections, thinnest first."""
    types: defaultdict[int, list[PieceType]] = defaultdict(list)
    runs: defaultdict[int, list[tuple[int, Run]]] = defaultdict(list)
    for piece in request.pieces:
        types[piece.section_mm].append(piece)
    for number, run in enumerate(request.runs):
        runs[run.section_mm].append((number, run))
    for section in sorted(runs):
        yield section_of(types[section], runs[section], request.rules)


def answer_of(request: CoverRequest, parts: Sequence[Part], limits: Limits) -> CoverAnswer:
    """The answer that solved sections make."""
    composed = composed_runs(request, parts)
    impossible = _impossible(request, parts)
    faults = faults_of(request, composed, impossible)
    if faults:
        raise PlanFault("; ".join(faults[:5]))
    found = measures_of(request, composed)
    plans = [part.plan for part in parts if part.plan is not None]
    short_bound = sum(plan.short_bound for plan in plans)
    cost_bound: int | None = sum(plan.cost_bound for plan in plans)
    if request.ask == "covered":
        cost_bound = None
    gap = None if cost_bound is None else gap_between(found.cost_mm, cost_bound)
    covered = not impossible and found.short_mm == 0
    if request.ask == "covered":
        proved = covered or bool(impossible) or short_bound > 0
    else:
        proved = found.short_mm == short_bound and gap is not None and gap <= PROVED_GAP
    return CoverAnswer(
        covered=covered,
        short_mm=found.short_mm,
        short_bound_mm=short_bound,
        cost_mm=found.cost_mm,
        cost_bound_mm=cost_bound,
        gap=gap,
        proved=proved,
        seconds=round(limits.spent(), 3),
        runs=composed,
        load=tuple(Load(code, count) for code, count in found.load),
        short=tuple(Short(code, count, first) for code, count, first in found.short),
        impossible=impossible,
    )


def composed_runs(request: CoverRequest, parts: Sequence[Part]) -> tuple[ComposedRun, ...]:
    """Each made run's pieces from the seat, in the order of the request."""
    made: dict[int, tuple[str, ...]] = {}
    for part in parts:
        if part.plan is not None:
            made.update(_codes(part.section, part.plan))
    runs = request.runs
    return tuple(ComposedRun(runs[at].pour, runs[at].side, made[at]) for at in sorted(made))


def _codes(section: Section, plan: SectionPlan) -> Iterator[tuple[int, tuple[str, ...]]]:
    """Like runs take a group's choices in turn, in the order of the request."""
    column = 0
    for group in section.groups:
        waiting = iter(group.runs)
        for row in group.choices:
            order = from_the_seat(section.types, section.choices.counts[row], group.seats)
            codes = tuple(kind.code for kind in order)
            for _ in range(int(plan.picks[column])):
                yield next(waiting), codes
            column += 1


def _impossible(request: CoverRequest, parts: Sequence[Part]) -> tuple[Impossible, ...]:
    numbers = sorted(number for part in parts for number in part.section.impossible)
    runs = request.runs
    return tuple(Impossible(runs[at].pour, runs[at].side, reason_impossible(request, runs[at])) for at in numbers)
