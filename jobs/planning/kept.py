"""An answer whose runs are put together as they were found enough before, where the stock still covers them so."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from jobs.planning.answer import PROVED_GAP, ComposedRun, CoverAnswer, Load, gap_between
from jobs.planning.checker import faults_of, measures_of
from jobs.planning.request import CoverRequest


def kept_runs(request: CoverRequest, codes: Mapping[str, Sequence[str]]) -> tuple[ComposedRun, ...]:
    """The runs of a request made of these codes, by side; none unless every one is legal and nothing is lacking."""
    made = tuple(ComposedRun(run.pour, run.side, tuple(codes.get(str(run.side), ()))) for run in request.runs)
    if faults_of(request, made) or measures_of(request, made).short_mm:
        return ()
    return made


def with_runs(request: CoverRequest, answer: CoverAnswer, runs: Sequence[ComposedRun]) -> CoverAnswer:
    """The answer with other runs, which `kept_runs` has passed: its figures are theirs, its bounds stay."""
    found = measures_of(request, runs)
    bound = answer.cost_bound_mm
    gap = None if bound is None else gap_between(found.cost_mm, bound)
    return replace(
        answer,
        covered=True,
        short_mm=0,
        short_bound_mm=0,
        cost_mm=found.cost_mm,
        gap=gap,
        proved=gap is None or gap <= PROVED_GAP,
        runs=tuple(runs),
        load=tuple(Load(code, count) for code, count in found.load),
        short=(),
    )
