"""The runs a check settles on: of all that the edge forms cover alike, those of which the rest is covered too.

The engine finds the least gear. How many brackets and plates that needs hangs on its pieces and joints, so the least
gear may lack some where other runs, hardly dearer, lack nothing. So before a check says that any are lacking it looks
at the runs of the plan the job is accepted with, at those a remedy was worked out with, and at those of fewest joints.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from jobs.models import CoverCheck
from jobs.planning.answer import ComposedRun, CoverAnswer
from jobs.planning.kept import kept_runs, with_runs
from jobs.planning.limits import Limits, Watch
from jobs.planning.remedies.composing import fewest_joints
from jobs.planning.request import CoverRequest
from jobs.selectors.cover import goods_of
from jobs.selectors.cutlist import cut_list
from jobs.selectors.goods import goods_for, short_of, stored_goods
from jobs.selectors.known_runs import known_runs
from jobs.selectors.levels import steady
from jobs.services.watching import Watching

FEWER_JOINTS_SECONDS = 15.0


@dataclass(frozen=True)
class Settled:
    """An answer, what it needs beside the edge forms as stored rows, and where it is not the least gear, what that
    would lack: (type name, count)."""

    answer: CoverAnswer
    goods: Sequence[dict[str, Any]]
    instead: Sequence[tuple[str, int]] = ()


def settled(
    check: CoverCheck,
    request: CoverRequest,
    answer: CoverAnswer,
    today: date,
    watch: Watching,
    seconds: float | None = FEWER_JOINTS_SECONDS,
) -> Settled:
    """The answer whose runs change least from level to level, or another with which nothing is lacking; looked for
    no longer than so many seconds, or by work limits alone."""
    least = _counted(check, steady(check, request, answer), today)
    if answer.impossible or (least.answer.covered and not short_of(least.goods)):
        return least
    for runs in _others(check, request, answer, today, watch, seconds):
        for other in (steady(check, request, with_runs(request, answer, runs)), with_runs(request, answer, runs)):
            found = _counted(check, other, today)
            if not short_of(found.goods):
                return Settled(found.answer, found.goods, _lacking(least))
    return least


def _others(
    check: CoverCheck,
    request: CoverRequest,
    answer: CoverAnswer,
    today: date,
    watch: Watching,
    seconds: float | None,
) -> Iterator[tuple[ComposedRun, ...]]:
    """Other ways to compose the runs that the stock covers, those that cost nothing to look at first."""
    if answer.covered:
        yield answer.runs
    for codes in known_runs(check.job):
        runs = kept_runs(request, codes)
        if runs:
            yield runs
    if answer.covered and _joints_matter(check, today):
        watch.progress(0.95, "Looking for runs of fewer joints, which need fewer brackets and plates")
        fewer = fewest_joints(request, Limits(seconds, watch=Watch(watch.cancelled)), FEWER_JOINTS_SECONDS)
        if fewer.covered:
            yield fewer.runs


def _joints_matter(check: CoverCheck, today: date) -> bool:
    """Whether nothing is lacking at the least that any runs need: else no way to compose them is of use."""
    least = goods_for(check.job, cut_list(check.job), today)
    return not any(goods.lack and goods.lack.short for goods in least)


def _counted(check: CoverCheck, answer: CoverAnswer, today: date) -> Settled:
    check.answer = answer.as_json()
    return Settled(answer, goods_of(check, today))


def _lacking(least: Settled) -> list[tuple[str, int]]:
    return [(row.name, row.short) for row in stored_goods(least.goods) if row.short]
