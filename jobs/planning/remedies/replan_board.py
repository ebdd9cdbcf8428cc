"""Several jobs of one yard as one linear program: the new one day by day, the others from delivery to delivery.

Columns: for each job, group of like runs and legal choice, how many runs take it; then, for each other job,
type and truck, how many it holds once that truck is there; then how far that is from what it holds at present.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

import highspy
import numpy as np

from jobs.planning.availability import Steps
from jobs.planning.limits import Limits
from jobs.planning.patterns import choices_of
from jobs.planning.program import INFINITE
from jobs.planning.remedies.solving import column_program, solved
from jobs.planning.request import CoverRequest

Column = dict[int, float]
Use = Mapping[str, Mapping[date, Mapping[int, float]]]


@dataclass(frozen=True)
class Held:
    """Another job: its runs, its trucks as (day loaded, first day of use), when all is back, and what it holds of
    each type after each truck at present."""

    request: CoverRequest
    trucks: tuple[tuple[date, date], ...]
    back: date
    present: Mapping[str, tuple[int, ...]]


@dataclass(frozen=True)
class Joint:
    """What a solve came to. `none` is a proof that nothing fits; `held` by job: code to numbers after each truck."""

    none: bool = False
    held: tuple[dict[str, tuple[int, ...]], ...] | None = None


def level_on(steps: Sequence[tuple[date, int]], day: date) -> int:
    """The level of steps (day, number) on a day; 0 before the first.

    >>> [level_on([(date(2027, 3, 1), 4), (date(2027, 3, 9), 2)], date(2027, 3, n)) for n in (8, 9)]
    [4, 2]
    """
    return next((count for since, count in reversed(list(steps)) if since <= day), 0)


class JointBoard:
    """The program. Rows and columns are gathered as they come and packed once. A joint costs as much as a change of
    `joint_mm`."""

    def __init__(
        self,
        request: CoverRequest,
        others: Sequence[Held],
        free: Mapping[str, Steps],
        windows: Mapping[date, tuple[date, date]],
        joint_mm: float = 0.0,
    ) -> None:
        self.request, self.others, self.free, self.windows = request, others, free, windows
        self.joint_mm = joint_mm
        self.columns: list[Column] = []
        self.costs: list[float] = []
        self.lower: list[float] = []
        self.upper: list[float] = []
        self.complete = True
        self.picks = 0
        self._build()

    def _row(self, lower: float, upper: float) -> int:
        self.lower.append(lower)
        self.upper.append(upper)
        return len(self.lower) - 1

    def _column(self, cost: float = 0.0) -> int:
        self.columns.append({})
        self.costs.append(cost)
        return len(self.columns) - 1

    def _build(self) -> None:
        codes = [piece.code for piece in self.request.pieces]
        new_use = self._runs(self.request)
        uses = [self._runs(job.request) for job in self.others]
        self.picks = len(self.columns)
        self.holds = [self._holds(job) for job in self.others]
        for job, use, hold in zip(self.others, uses, self.holds, strict=True):
            self._within(job, use, hold)
        for code in {*codes, *(code for hold in self.holds for code in hold)}:
            self._share(code, new_use.get(code, {}))

    def _runs(self, request: CoverRequest) -> Use:
        """Columns and rows for a job's runs; what each column uses, by code and day."""
        use: dict[str, dict[date, dict[int, float]]] = defaultdict(lambda: defaultdict(dict))
        for section in sorted({run.section_mm for run in request.runs}):
            types = [piece for piece in request.pieces if piece.section_mm == section]
            runs = [run for run in request.runs if run.section_mm == section]
            longest = max(run.window(request.rules)[1] for run in runs)
            table = choices_of(types, request.rules.max_pieces_per_run, longest, request.rules.ends)
            self.complete = self.complete and table.complete
            alike: dict[tuple[date, date, int, int, int], int] = defaultdict(int)
            for run in runs:
                alike[run.start, run.until, *run.window(request.rules), run.seats] += 1
            for (start, until, least, most, seats), count in alike.items():
                row = self._row(float(count), float(count))
                for choice in table.within(least, most, seats):
                    at = self._column(self.joint_mm * (int(table.counts[choice].sum()) - 1))
                    self.columns[at][row] = 1.0
                    for n in np.nonzero(table.counts[choice])[0].tolist():
                        for day in range(start.toordinal(), until.toordinal()):
                            held = use[types[n].code][date.fromordinal(day)]
                            held[at] = float(table.counts[choice, n])
        return use

    def _holds(self, job: Held) -> dict[str, list[int]]:
        """Numbers held after each truck, never fewer after a later one, and how far they are from the present."""
        holds: dict[str, list[int]] = {}
        for piece in job.request.pieces:
            present = job.present.get(piece.code, (0,) * len(job.trucks))
            mine = [self._column() for _ in job.trucks]
            for earlier, later in pairwise(mine):
                row = self._row(0.0, INFINITE)
                self.columns[later][row], self.columns[earlier][row] = 1.0, -1.0
            for at, now in zip(mine, present, strict=True):
                # A mm more for each piece: of equal changes in length the one of fewer pieces, and so of fewer joints.
                more, less = self._column(piece.length_mm + 1.0), self._column(piece.length_mm + 1.0)
                row = self._row(float(now), float(now))
                self.columns[at][row], self.columns[more][row], self.columns[less][row] = 1.0, -1.0, 1.0
            holds[piece.code] = mine
        return holds

    def _within(self, job: Held, use: Use, hold: Mapping[str, list[int]]) -> None:
        """On each day a job uses no more than it holds."""
        seen: set[tuple[str, int, tuple[tuple[int, float], ...]]] = set()
        for code, days in use.items():
            for day, taken in days.items():
                truck = sum(used <= day for _, used in job.trucks) - 1
                key = (code, truck, tuple(sorted(taken.items())))
                if key in seen:
                    continue
                seen.add(key)
                row = self._row(-INFINITE, 0.0)
                for at, held in taken.items():
                    self.columns[at][row] = held
                if truck >= 0:
                    self.columns[hold[code][truck]][row] = -1.0

    def _share(self, code: str, use: Mapping[date, Mapping[int, float]]) -> None:
        """What the others hold and the new job uses is no more than the yard has; what they hold beyond it already
        may stay so."""
        alike: dict[tuple[tuple[int, float], ...], list[tuple[date, date]]] = defaultdict(list)
        for day, taken in use.items():
            alike[tuple(sorted(taken.items()))].append(self.windows[day])
        for first, until in self._spans(code):
            holding = [hold[code][truck] for hold, truck in self._holding(code, first)]
            most = float(max(level_on(self.free.get(code, ()), first), self._present(code, first)))
            touching = [key for key, windows in alike.items() if any(a < until and first < b for a, b in windows)]
            for used in touching or [()] * bool(holding):
                row = self._row(-INFINITE, most)
                for at, held in used:
                    self.columns[at][row] = held
                for at in holding:
                    self.columns[at][row] = 1.0

    def _spans(self, code: str) -> Iterator[tuple[date, date]]:
        """Half-open spans of days between one change and the next."""
        days = {day for day, _ in self.free.get(code, ())} | {edge for w in self.windows.values() for edge in w}
        for job in self.others:
            days |= {load for load, _ in job.trucks} | {job.back}
        yield from pairwise(sorted(days))

    def _holding(self, code: str, day: date) -> Iterator[tuple[dict[str, list[int]], int]]:
        for job, hold in zip(self.others, self.holds, strict=True):
            truck = sum(load <= day for load, _ in job.trucks) - 1
            if code in hold and truck >= 0 and day < job.back:
                yield hold, truck

    def _present(self, code: str, day: date) -> int:
        return sum(
            level_on(list(zip((load for load, _ in job.trucks), job.present.get(code, ()), strict=False)), day)
            for job in self.others
            if day < job.back
        )

    def solve(self, limits: Limits, *, whole: bool) -> Joint:
        """Numbers to hold with which all fit and that change least; choices are fractional unless `whole`."""
        rows = list(zip(self.lower, self.upper, strict=True))
        lp = column_program(self.columns, self.costs, [INFINITE] * len(self.columns), rows)
        highs = solved(lp, limits, [whole or at >= self.picks for at in range(len(self.columns))])
        if highs.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
            return Joint(none=self.complete)
        if highs.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return Joint()
        counts = np.rint(np.array(highs.getSolution().col_value)).astype(int).tolist()
        return Joint(
            held=tuple({code: tuple(counts[at] for at in mine) for code, mine in hold.items()} for hold in self.holds)
        )
