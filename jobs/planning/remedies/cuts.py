"""What the days of pours must keep to if the stock is to cover them: proved from the relaxation's prices.

For pours on given days, the relaxation of least shortage puts a price on each type on each day. Whatever days
the pours are moved to, their runs must be paid for at those prices out of what is on hand, or they are short:
so the prices give a limit that every covered programme keeps (Benders, Numerische Mathematik 4, 1962).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import highspy
import numpy as np
from numpy.typing import NDArray

from jobs.planning.limits import Limits
from jobs.planning.overlaps import Periods
from jobs.planning.patterns import Choices, choices_of
from jobs.planning.program import INFINITE, quiet_highs
from jobs.planning.request import CoverRequest, PieceType, Run

FloatArray = NDArray[np.float64]
# Lengths are whole mm; less than half of one is the solver's rounding.
_LEAST_LACK = 0.5


@dataclass(frozen=True)
class Cut:
    """The sum over all pours of `worth(pour, span)` is at most `limit` in every covered programme."""

    limit: float
    worth: Callable[[Sequence[Run], tuple[date, date]], float]


class Prices:
    """One section of a request whose runs may lie on any days."""

    def __init__(self, request: CoverRequest, section_mm: int) -> None:
        self.rules = request.rules
        self.types: tuple[PieceType, ...] = tuple(p for p in request.pieces if p.section_mm == section_mm)
        self.section_mm = section_mm
        runs = [run for run in request.runs if run.section_mm == section_mm]
        longest = max(run.window(self.rules)[1] for run in runs)
        self.choices: Choices = choices_of(self.types, self.rules.max_pieces_per_run, longest, self.rules.ends)
        self.legal: dict[tuple[int, int, int], NDArray[np.int64]] = {}
        for run in runs:
            key = self._key(run)
            if key not in self.legal:
                self.legal[key] = self.choices.within(*key)

    def _key(self, run: Run) -> tuple[int, int, int]:
        return (*run.window(self.rules), run.seats)

    def cut(self, runs: Sequence[Run], limits: Limits) -> Cut | None:
        """A limit that these runs on their days break, or None where the relaxation covers them."""
        mine = [run for run in runs if run.section_mm == self.section_mm]
        steps = {day for kind in self.types for day, _ in kind.on_hand}
        periods = Periods.of([(run.start, run.until) for run in mine], steps)
        levels = [[kind.count_on(day) for day in periods.days] for kind in self.types]
        rows = [(n, k) for n in range(len(self.types)) for k in periods.needed(levels[n])]
        highs = self._programme(mine, periods, levels, rows, limits)
        highs.run()
        if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        if highs.getInfo().objective_function_value <= _LEAST_LACK:
            return None
        duals = np.array(highs.getSolution().row_dual)[-len(rows) :]
        return self._cut_of({(n, periods.days[k]): -dual for (n, k), dual in zip(rows, duals, strict=True) if dual < 0})

    def _programme(
        self,
        runs: Sequence[Run],
        periods: Periods,
        levels: Sequence[Sequence[int]],
        rows: Sequence[tuple[int, int]],
        limits: Limits,
    ) -> highspy.Highs:
        """Columns: each group's choices, then each type's lack. Rows: groups, then types on days."""
        groups = list(self._groups(runs, periods))
        row_of = {row: len(groups) + at for at, row in enumerate(rows)}
        columns: list[list[tuple[int, float]]] = []
        for at, (first, last, legal, _) in enumerate(groups):
            for choice in legal:
                used = np.nonzero(self.choices.counts[choice])[0].tolist()
                column = [(at, 1.0)]
                for n in used:
                    held = float(self.choices.counts[choice, n])
                    column += [(row_of[n, k], held) for k in range(first, last + 1) if (n, k) in row_of]
                columns.append(column)
        picks = len(columns)
        columns += [[(row_of[n, k], -1.0) for (n, k) in rows if n == kind] for kind in range(len(self.types))]
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(columns), len(groups) + len(rows)
        lp.col_cost_ = np.array([0.0] * picks + [float(kind.length_mm) for kind in self.types])
        lp.col_lower_, lp.col_upper_ = np.zeros(len(columns)), np.full(len(columns), INFINITE)
        counts = [float(count) for *_, count in groups]
        lp.row_lower_ = np.array(counts + [-INFINITE] * len(rows))
        lp.row_upper_ = np.array(counts + [float(levels[n][k]) for n, k in rows])
        lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        lp.a_matrix_.start_ = np.cumsum([0, *map(len, columns)]).astype(np.int32)
        lp.a_matrix_.index_ = np.array([row for column in columns for row, _ in column], dtype=np.int32)
        lp.a_matrix_.value_ = np.array([value for column in columns for _, value in column])
        highs = quiet_highs()
        highs.passModel(lp)
        if limits.left() < float("inf"):
            highs.setOptionValue("time_limit", limits.left())
        return highs

    def _groups(self, runs: Sequence[Run], periods: Periods) -> Iterator[tuple[int, int, NDArray[np.int64], int]]:
        ordinals = [day.toordinal() for day in periods.days]
        alike: defaultdict[tuple[int, int, tuple[int, int, int]], int] = defaultdict(int)
        for run in runs:
            first, after = np.searchsorted(ordinals, [run.start.toordinal(), run.until.toordinal()])
            alike[int(first), int(after) - 1, self._key(run)] += 1
        for (first, last, key), count in alike.items():
            yield first, last, self.legal[key], count

    def _cut_of(self, prices: Mapping[tuple[int, date], float]) -> Cut:
        limit = sum(price * self.types[n].count_on(day) for (n, day), price in prices.items())
        known: dict[tuple[tuple[int, int, int], tuple[float, ...]], float] = {}

        def worth(runs: Sequence[Run], span: tuple[date, date]) -> float:
            each = np.zeros(len(self.types))
            for (n, day), price in prices.items():
                if span[0] <= day < span[1]:
                    each[n] += price
            return sum(self._least(run, each, known) for run in runs if run.section_mm == self.section_mm)

        return Cut(limit, worth)

    def _least(
        self, run: Run, each: FloatArray, known: dict[tuple[tuple[int, int, int], tuple[float, ...]], float]
    ) -> float:
        """The cheapest way to make a run at so much for each type, on all of its days together."""
        key = (self._key(run), tuple(each.tolist()))
        if key not in known:
            known[key] = float((self.choices.counts[self.legal[key[0]]] @ each).min())
        return known[key]
