"""A section's cover over time as a linear program in which offers can be taken.

Columns: for each group of like runs and each legal choice, how many of its runs take it; then, for each offer,
how many are taken. Rows: each group's runs are all made; of each type, on each day that matters, use is at
most what is on hand and what the taken offers make of it; each pool is not overdrawn. There is no lack: a
solution is a cover.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray

from jobs.planning.answer import ComposedRun
from jobs.planning.limits import Limits
from jobs.planning.overlaps import Periods
from jobs.planning.patterns import Choices, choices_of, from_the_seat
from jobs.planning.program import INFINITE
from jobs.planning.remedies.offers import Offer
from jobs.planning.remedies.solving import solved
from jobs.planning.request import CoverRequest, Run

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]
_TINY = 1e-6


@dataclass(frozen=True)
class _Group:
    """Runs that are alike: held in periods `first` to `last`, both included, with the same legal choices."""

    first: int
    last: int
    seats: int
    rows: IntArray
    runs: tuple[Run, ...]


@dataclass(frozen=True)
class Outcome:
    """What a solve came to. `none` is a proof that no choice of offers covers; `bound` the proved least price."""

    none: bool = False
    bound: float = 0.0
    taken: Mapping[str, int] | None = None
    runs: tuple[ComposedRun, ...] | None = None
    proved: bool = False


class Board:
    """One section of a request, in which every run has a legal choice, with the offers that touch it."""

    def __init__(self, request: CoverRequest, offers: Sequence[Offer], pools: Mapping[str, int]) -> None:
        self.request = request
        self.offers = tuple(offers)
        self.pools = {name: most for name, most in pools.items() if any(offer.pool == name for offer in offers)}
        self.types = request.pieces
        longest = max(run.window(request.rules)[1] for run in request.runs)
        self.choices: Choices = choices_of(self.types, request.rules.max_pieces_per_run, longest, request.rules.ends)
        steps = {day for piece in self.types for day, _ in piece.on_hand}
        for offer in offers:
            for change in offer.changes:
                steps |= {change.start} | ({change.until} if change.until else set())
        self.periods = Periods.of([(run.start, run.until) for run in request.runs], steps)
        self.groups = list(self._grouped())
        self.columns = [(at, int(row)) for at, group in enumerate(self.groups) for row in group.rows]
        self.lp = self._programme()

    @property
    def complete(self) -> bool:
        """Whether every legal choice is in: without that nothing is proved."""
        return self.choices.complete

    def _grouped(self) -> Iterator[_Group]:
        ordinals = [day.toordinal() for day in self.periods.days]
        legal: dict[tuple[int, int, int], IntArray] = {}
        alike: defaultdict[tuple[int, int, int, bytes], list[Run]] = defaultdict(list)
        for run in self.request.runs:
            window = (*run.window(self.request.rules), run.seats)
            if window not in legal:
                legal[window] = self.choices.within(*window)
            first, after = np.searchsorted(ordinals, [run.start.toordinal(), run.until.toordinal()])
            alike[int(first), int(after) - 1, run.seats, legal[window].tobytes()].append(run)
        for (first, last, seats, rows), runs in alike.items():
            yield _Group(first, last, seats, np.frombuffer(rows, dtype=np.int64), tuple(runs))

    def _effects(self, code: str) -> IntArray:
        """(offers, periods): how many more of a type one of each offer makes in each period."""
        effects = np.zeros((len(self.offers), len(self.periods.days)), dtype=np.int64)
        for at, offer in enumerate(self.offers):
            for change in offer.changes:
                if change.code == code:
                    effects[at] += [change.on(day) for day in self.periods.days]
        return effects

    def _most_used(self) -> IntArray:
        """(types, periods): the most of each type that could be in use, whatever is chosen."""
        steps = np.zeros((len(self.types), len(self.periods.days) + 1), dtype=np.int64)
        for group in self.groups:
            most = self.choices.counts[group.rows].max(axis=0).astype(np.int64) * len(group.runs)
            steps[:, group.first] += most
            steps[:, group.last + 1] -= most
        found: IntArray = steps.cumsum(axis=1)[:, :-1]
        return found

    def _watched(self, on_hand: IntArray, effects: IntArray, most_used: IntArray) -> list[int]:
        """The periods to watch for a type: no other has at least the same runs and never more to make them of."""
        kept = []
        lowest = on_hand + np.minimum(effects * np.array([[o.most] for o in self.offers] or [[0]]), 0).sum(axis=0)
        for k in range(len(self.periods.days)):
            if most_used[k] > lowest[k] and not self._outdone(k, on_hand, effects):
                kept.append(k)
        return kept

    def _outdone(self, period: int, on_hand: IntArray, effects: IntArray) -> bool:
        first, last = self.periods.first, self.periods.last
        for other in range(first[period], last[period] + 1):
            if other == period or on_hand[other] > on_hand[period] or (effects[:, other] > effects[:, period]).any():
                continue
            same = on_hand[other] == on_hand[period] and (effects[:, other] == effects[:, period]).all()
            equal = first[other] <= period <= last[other]
            if not same or not equal or other < period:
                return True
        return False

    def _programme(self) -> highspy.HighsLp:
        entries: list[tuple[int, int, float]] = []
        upper: list[float] = []
        most_used, counts = self._most_used(), self.choices.counts
        for at, (group, _) in enumerate(self.columns):
            entries.append((at, group, 1.0))
        rows_of: dict[tuple[int, int], int] = {}
        for n, kind in enumerate(self.types):
            # Below 0 is what others have claimed: counted as none, so that a price found is a bound all the same.
            on_hand = np.array([max(0, kind.count_on(day)) for day in self.periods.days], dtype=np.int64)
            effects = self._effects(kind.code)
            for k in self._watched(on_hand, effects, most_used[n]):
                row = rows_of[n, k] = len(self.groups) + len(upper)
                upper.append(float(on_hand[k]))
                taking = np.nonzero(effects[:, k])[0]
                entries += [(len(self.columns) + int(at), row, -float(effects[at, k])) for at in taking]
        for at, (number, choice) in enumerate(self.columns):
            held = self.groups[number]
            for used in np.nonzero(counts[choice])[0].tolist():
                for k in range(held.first, held.last + 1):
                    if (used, k) in rows_of:
                        entries.append((at, rows_of[used, k], float(counts[choice, used])))
        for name, most in self.pools.items():
            row = len(self.groups) + len(upper)
            upper.append(float(most))
            entries += [(len(self.columns) + at, row, 1.0) for at, o in enumerate(self.offers) if o.pool == name]
        return self._packed(entries, upper)

    def _packed(self, entries: list[tuple[int, int, float]], upper: list[float]) -> highspy.HighsLp:
        runs = np.array([float(len(group.runs)) for group in self.groups])
        count = len(self.columns) + len(self.offers)
        column, row, value = (np.array(part) for part in zip(*entries, strict=True))
        order = np.lexsort((row, column))
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = count, len(runs) + len(upper)
        lp.col_cost_ = np.array([0.0] * len(self.columns) + [float(offer.price) for offer in self.offers])
        lp.col_lower_ = np.zeros(count)
        lp.col_upper_ = np.array([*(runs[group] for group, _ in self.columns), *(float(o.most) for o in self.offers)])
        lp.row_lower_ = np.concatenate([runs, np.full(len(upper), -INFINITE)])
        lp.row_upper_ = np.concatenate([runs, np.array(upper)])
        lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        starts = np.concatenate([[0], np.cumsum(np.bincount(column, minlength=count))])
        lp.a_matrix_.start_ = starts.astype(np.int32)
        lp.a_matrix_.index_ = row[order].astype(np.int32)
        lp.a_matrix_.value_ = value[order].astype(float)
        return lp

    def solve(self, limits: Limits, *, whole: bool) -> Outcome:
        """The least price at which the section is covered; with choices left fractional unless `whole`."""
        whole_ones = [whole or at >= len(self.columns) for at in range(self.lp.num_col_)]
        highs = solved(self.lp, limits, whole_ones)
        return self._outcome(highs, whole)

    def _outcome(self, highs: highspy.Highs, whole: bool) -> Outcome:
        status, info = highs.getModelStatus(), highs.getInfo()
        if status == highspy.HighsModelStatus.kInfeasible:
            return Outcome(none=self.complete)
        bound = max(0.0, info.mip_dual_bound) if self.complete else 0.0
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return Outcome(bound=bound)
        values = np.array(highs.getSolution().col_value)
        counts = np.rint(values[len(self.columns) :]).astype(np.int64)
        taken = {offer.key: int(count) for offer, count in zip(self.offers, counts, strict=True) if count}
        runs = tuple(self._composed(np.rint(values[: len(self.columns)]).astype(np.int64))) if whole else None
        proved = status == highspy.HighsModelStatus.kOptimal and self.complete
        return Outcome(bound=bound, taken=taken, runs=runs, proved=proved)

    def _composed(self, picks: IntArray) -> Iterator[ComposedRun]:
        waiting = [iter(group.runs) for group in self.groups]
        for (number, choice), times in zip(self.columns, picks, strict=True):
            order = from_the_seat(self.types, self.choices.counts[choice], self.groups[number].seats)
            for _ in range(int(times)):
                run = next(waiting[number])
                yield ComposedRun(run.pour, run.side, tuple(kind.code for kind in order))
