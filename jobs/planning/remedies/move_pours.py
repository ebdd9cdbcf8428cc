"""Move pours: the fewest pours to move, so that the job is covered; then those by the fewest working days.

Kept: what stands on a pour in a stack is set when that is stripped and no sooner than a cycle after it is cast;
the greatest number of panels in a day, in all and for the crews there are; what is set or cast stays.
A master program says which moves to try; limits from the relaxation's prices say what is wrong with them and the
cover check whether they do. The master is never stricter than the truth, so its least is a proved bound, and the
first of its moves that do are the fewest. Where whole pieces keep its moves from being covered a few times, moves
with a little more room are tried: what they find is compared with that bound, and said to be the fewest only if it
meets it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from jobs.planning.answer import ComposedRun
from jobs.planning.limits import Limits
from jobs.planning.remedies.move_fewer import fewer_moves
from jobs.planning.remedies.move_greedy import placed_one_by_one
from jobs.planning.remedies.move_master import Bounds, Master
from jobs.planning.remedies.push_back import pushed_back, put_back
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.remedies.trials import Trials

__all__ = ["Bounds", "MoveAnswer", "move_pours"]

_MOST_ROUNDS = 400
_FRACTIONAL_ROUNDS = 80
# Fewer than so many pours are looked through move by move; with more, room is given after so many failures.
_FEW_POURS = 12
_FAILURES = 2
_NEARER_ROUNDS = 12
_ROOM = (0.0, 0.004, 0.008, 0.015, 0.03, 0.06)
# Mm of form that may be lacking while moves are fractional, and once they are whole.
_LITTLE, _NOTHING = 200.0, 0.5


@dataclass(frozen=True)
class MoveAnswer:
    """The pours to move, each by so many working days, earlier if negative; None where none were found.

    `least` is the proved least number of pours. `proved`: no fewer would do, or no moves within bounds do.
    `runs` are composed for the days they are moved to.
    """

    shifts: Mapping[str, int] | None
    proved: bool
    least: int
    rounds: int = 0
    runs: tuple[ComposedRun, ...] = ()


def move_pours(timeline: Timeline, bounds: Bounds, limits: Limits) -> MoveAnswer:
    """The fewest pours to move so that the job is covered."""
    trials = Trials(timeline)
    answer = _moved(trials, bounds, limits)
    return answer if answer.shifts is None else replace(answer, runs=trials.of(answer.shifts, limits).runs)


def _moved(trials: Trials, bounds: Bounds, limits: Limits) -> MoveAnswer:
    master = Master(trials.timeline, bounds)
    search = _Search(trials, master)
    answer = search.search(limits.within(0.5))
    if answer.shifts is not None or answer.proved:
        return answer
    found = placed_one_by_one(trials, master, limits.within(0.4))
    if not found:
        found = pushed_back(trials, bounds.later, search.likely, limits.within(0.6))
    if not found:
        return answer
    found = search.nearer(fewer_moves(trials, master, found, limits.within(0.85)), limits)
    return MoveAnswer(found, len(found) <= answer.least, min(answer.least, len(found)), answer.rounds)


@dataclass
class _Search:
    trials: Trials
    master: Master
    least: int = 0
    proved: bool = True
    failures: int = 0

    def search(self, limits: Limits) -> MoveAnswer:
        """Moves that are covered, or a proof that there are none, or the bound that time allowed."""
        if len(self.master.names) > _FEW_POURS:
            self._sharpen(limits.within(0.4))
        for turn in range(_MOST_ROUNDS):
            if limits.over():
                break
            room = 0.0
            if len(self.master.names) > _FEW_POURS:
                room = _ROOM[min(self.failures // _FAILURES, len(_ROOM) - 1)]
            found = self.master.solve(
                limits,
                whole=True,
                eased=room,
                seconds=limits.left() * 0.4,
                days_too=len(self.master.names) <= _FEW_POURS,
            )
            if self.proved:  # what was ruled out without proof may have been the fewest
                self.least = max(self.least, found.least)
            if found.none:
                return MoveAnswer(None, self.proved, self.least, turn)
            if found.values is None:
                if not room:
                    break
                self.failures += _FAILURES
                if self.failures >= _FAILURES * len(_ROOM):
                    break
                continue
            shifts = self.master.shifts_of(found.values)
            limits.tell(min(0.9, turn / 60), f"Trying to move {len(shifts)} pour{'s' if len(shifts) != 1 else ''}")
            if self.master.learn(found.values.round(), _NOTHING, limits):
                continue
            trial = self.trials.of(shifts, limits)
            if trial.covered:
                return self._found(shifts, turn, limits)
            self.proved = self.proved and trial.proved
            self.failures += 1
            self.master.rule_out(found.values)
        return MoveAnswer(None, False, self.least, _MOST_ROUNDS)

    def _sharpen(self, limits: Limits) -> None:
        """Limits found with moves left fractional."""
        for turn in range(_FRACTIONAL_ROUNDS):
            if limits.over():
                return
            found = self.master.solve(limits, whole=False, days_too=False)
            self.least = max(self.least, found.least)
            limits.tell(min(0.5, turn / 100), "Working out on which days too much is set at once")
            if found.values is None or not self.master.learn(found.values, _LITTLE, limits):
                return

    def _found(self, shifts: dict[str, int], turn: int, limits: Limits) -> MoveAnswer:
        least = min(self.least, len(shifts))
        if len(shifts) > least:
            shifts = put_back(shifts, self.does(limits), limits)
        if len(self.master.names) > _FEW_POURS:
            shifts = self.nearer(shifts, limits)
        proved = self.proved and len(shifts) <= least
        return MoveAnswer(shifts, proved, least, turn)

    def nearer(self, shifts: dict[str, int], limits: Limits) -> dict[str, int]:
        """The same pours, or some of them, moved by fewer days in all where that is covered."""
        for _ in range(_NEARER_ROUNDS):
            if limits.over():
                break
            found = self.master.solve(limits, whole=True, seconds=limits.left() * 0.3, only=shifts)
            if found.values is None:
                break
            nearer = self.master.shifts_of(found.values)
            if sum(map(abs, nearer.values())) >= sum(map(abs, shifts.values())):
                break
            if self.master.learn(found.values.round(), _NOTHING, limits):
                continue
            if self.trials.of(nearer, limits).covered:
                return nearer
            self.master.rule_out(found.values)
        return shifts

    def likely(self, shifts: Mapping[str, int]) -> bool:
        """Whether moves keep everything and no price known so far shows that they lack."""
        return self.master.keeps(shifts) and not self.master.lacks(shifts)

    def does(self, limits: Limits) -> Callable[[Mapping[str, int]], bool]:
        """Whether moves keep everything and are covered, asked within the limits."""

        def does(shifts: Mapping[str, int]) -> bool:
            return self.likely(shifts) and self.trials.of(shifts, limits).covered

        return does
