"""What the days of pours must keep to if the stock is to cover them: proved from the relaxation's prices.

For pours on given days, the relaxation of least shortage puts a price on each type on each day. Whatever days
the pours are moved to, their runs must be paid for at those prices out of what is on hand, or they are short:
so the prices give a limit that every covered programme keeps (Benders, Numerische Mathematik 4, 1962). Prices of
one day hold on every other day as well, with what is on hand then: one solve so limits all days at once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

import highspy
import numpy as np
from numpy.typing import NDArray

from jobs.planning.limits import Limits
from jobs.planning.overlaps import Periods
from jobs.planning.patterns import Choices, choices_of
from jobs.planning.program import INFINITE, quiet_highs
from jobs.planning.remedies.solving import column_program
from jobs.planning.request import CoverRequest, PieceType, Run

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Span = tuple[date, date]
Held = tuple[str, Span]


class Prices:
    """One section of a request whose pours, by name in order, may lie on any days.

    `wants[pour, set]` is how many runs of a pour have one set of legal choices; runs that are alike share theirs.
    """

    def __init__(self, request: CoverRequest, section_mm: int, pours: Sequence[str]) -> None:
        rules = request.rules
        self.types: tuple[PieceType, ...] = tuple(p for p in request.pieces if p.section_mm == section_mm)
        runs = [run for run in request.runs if run.section_mm == section_mm]
        longest = max(run.window(rules)[1] for run in runs)
        self.choices: Choices = choices_of(self.types, rules.max_pieces_per_run, longest, rules.ends)
        self.place = {name: at for at, name in enumerate(pours)}
        self.sets: list[IntArray] = []
        self.wants = self._wanted(runs, request, len(pours))
        self.lengths = np.array([float(kind.length_mm) for kind in self.types])

    def _wanted(self, runs: Sequence[Run], request: CoverRequest, pours: int) -> FloatArray:
        numbers: dict[bytes, int] = {}
        found: dict[tuple[int, int], int] = defaultdict(int)
        for run in runs:
            legal = self.choices.within(*run.window(request.rules), run.seats)
            number = numbers.setdefault(legal.tobytes(), len(numbers))
            if number == len(self.sets):
                self.sets.append(legal)
            found[self.place[str(run.pour)], number] += 1
        wants = np.zeros((pours, len(self.sets)))
        for key, count in found.items():
            wants[key] = count
        return wants

    def on_hand(self, day: date) -> FloatArray:
        """How many of each type there are on a day."""
        return np.array([float(kind.count_on(day)) for kind in self.types])

    def worths(self, each: FloatArray) -> FloatArray:
        """For each pour, the least its runs can come to at so much for each type."""
        costs = self.choices.counts @ each
        least = np.array([costs[legal].min() for legal in self.sets])
        found: FloatArray = self.wants @ least
        return found

    def prices(self, taken: Mapping[Held, float], least_lack: float, limits: Limits) -> dict[date, FloatArray] | None:
        """The price of each type on each day, for pours held on those spans, each so much of it; None where the
        relaxation lacks no more than `least_lack` mm."""
        spans = [span for _, span in taken]
        steps = {day for kind in self.types for day, _ in kind.on_hand}
        periods = Periods.of(spans, steps)
        levels = [[kind.count_on(day) for day in periods.days] for kind in self.types]
        rows = [(n, k) for n in range(len(self.types)) for k in periods.needed(levels[n])]
        highs = self._programme(taken, periods, levels, rows, limits)
        highs.run()
        if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        if highs.getInfo().objective_function_value <= least_lack:
            return None
        duals = np.array(highs.getSolution().row_dual)[-len(rows) :]
        found: dict[date, FloatArray] = defaultdict(lambda: np.zeros(len(self.types)))
        for (n, k), dual in zip(rows, duals, strict=True):
            if dual < 0:
                found[periods.days[k]][n] -= dual
        return dict(found)

    def _programme(
        self,
        taken: Mapping[Held, float],
        periods: Periods,
        levels: Sequence[Sequence[int]],
        rows: Sequence[tuple[int, int]],
        limits: Limits,
    ) -> highspy.Highs:
        """Columns: each group's choices, then each type's lack. Rows: groups, then types on days."""
        groups = list(self._groups(taken, periods))
        row_of = {row: len(groups) + at for at, row in enumerate(rows)}
        columns: list[dict[int, float]] = []
        for at, (first, last, number, _) in enumerate(groups):
            watched = [[row_of[n, k] for k in range(first, last + 1) if (n, k) in row_of] for n in range(len(levels))]
            for choice in self.sets[number]:
                used = np.nonzero(self.choices.counts[choice])[0].tolist()
                column = {at: 1.0}
                for n in used:
                    held = float(self.choices.counts[choice, n])
                    column |= dict.fromkeys(watched[n], held)
                columns.append(column)
        picks = len(columns)
        columns += [{row_of[n, k]: -1.0 for (n, k) in rows if n == kind} for kind in range(len(self.types))]
        made = [(count, count) for *_, count in groups]
        kept = [(-INFINITE, float(levels[n][k])) for n, k in rows]
        costs = np.concatenate([np.zeros(picks), self.lengths]).tolist()
        highs = quiet_highs(limits)
        highs.passModel(column_program(columns, costs, [INFINITE] * len(columns), made + kept))
        return highs

    def _groups(self, taken: Mapping[Held, float], periods: Periods) -> Iterator[tuple[int, int, int, float]]:
        ordinals = [day.toordinal() for day in periods.days]
        alike: dict[tuple[int, int, int], float] = defaultdict(float)
        for (pour, (start, until)), share in taken.items():
            first, after = np.searchsorted(ordinals, [start.toordinal(), until.toordinal()])
            wanted = self.wants[self.place[pour]]
            for number in np.nonzero(wanted)[0].tolist():
                alike[int(first), int(after) - 1, number] += share * float(wanted[number])
        for (first, last, number), count in sorted(alike.items()):
            yield first, last, number, count

    def limit(self, prices: Mapping[date, FloatArray]) -> float:
        """What all that is on hand comes to at those prices."""
        return sum(float(each @ self.on_hand(day)) for day, each in prices.items())

    def worths_on(self, prices: Mapping[date, FloatArray], spans: Iterable[Span]) -> dict[Span, FloatArray]:
        """For each span, what each pour comes to at the least if it is held then."""
        found = {}
        for start, until in set(spans):
            each = sum((p for day, p in prices.items() if start <= day < until), np.zeros(len(self.types)))
            found[start, until] = self.worths(each) if each.any() else np.zeros(len(self.wants))
        return found
