"""Pours on other days, tried: whether the job is covered then, brackets and the rest with it, and by which runs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from jobs.planning.answer import ComposedRun
from jobs.planning.kept import kept_runs
from jobs.planning.limits import Limits
from jobs.planning.remedies.composing import covered_within, fewest_joints
from jobs.planning.remedies.counting import Counting, lacking
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.request import CoverRequest

Shifts = Mapping[str, int]
_FEWER_JOINTS = 3.0


@dataclass(frozen=True, slots=True)
class Trial:
    """`covered` by `runs`, or not; `proved` where no way to compose the runs is."""

    covered: bool
    proved: bool = False
    runs: tuple[ComposedRun, ...] = ()


@dataclass
class Trials:
    """Moves tried on one timeline; those that do are remembered."""

    timeline: Timeline
    done: dict[frozenset[tuple[str, int]], Trial] = field(default_factory=dict)

    def of(self, shifts: Shifts, limits: Limits) -> Trial:
        """Whether the job is covered with those pours moved, by so many working days each."""
        key = frozenset((name, days) for name, days in shifts.items() if days)
        if key not in self.done:
            trial = self._tried(shifts, limits)
            if not trial.covered:
                return trial
            self.done[key] = trial
        return self.done[key]

    def _tried(self, shifts: Shifts, limits: Limits) -> Trial:
        days = self.timeline.spans(shifts)
        if lacking(self.timeline.least, days):
            return Trial(False, True)
        request, counting = self.timeline.moved(shifts), self.timeline.counting
        for runs in self._compositions(request, counting, limits):
            if runs is None:
                return Trial(False, True)
            articles = self.timeline.articles if counting is None else counting.composed(runs)
            if not lacking(articles, days):
                return Trial(True, True, runs)
        return Trial(False)

    def _compositions(
        self, request: CoverRequest, counting: Counting | None, limits: Limits
    ) -> Iterator[tuple[ComposedRun, ...] | None]:
        """Ways to compose the runs that the stock covers, those that cost nothing to look at first; None is a proof
        that there is none."""
        if counting is not None:
            kept = kept_runs(request, counting.runs)
            if kept:
                yield kept
        answer = covered_within(request, limits)
        if answer.covered:
            yield answer.runs
        elif answer.proved:
            yield None
        if answer.covered and counting is not None:
            fewer = fewest_joints(request, limits, _FEWER_JOINTS)
            if fewer.covered:
                yield fewer.runs
