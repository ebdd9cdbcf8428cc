"""A section as a linear program, and HiGHS set to solve it.

Columns, in order: one for each (group, choice), how many of the group's runs take that choice; for each type
its greatest daily use; for each type its greatest daily lack. Rows: each group's runs are all made; on each
peak day use <= greatest use; on each stock day use - lack <= stock; last, sum of length x lack <= a cap.
Days hold the model to a cover over time: a type's row on a day sums the groups active on it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import highspy
import numpy as np
from numpy.typing import NDArray

from jobs.planning.model import IntArray, Section

FloatArray = NDArray[np.float64]
Triples = tuple[IntArray, IntArray, FloatArray]
INFINITE = float(highspy.kHighsInf)


@dataclass(frozen=True)
class Program:
    """The matrix of a section, column by column, with what each column stands for."""

    section: Section
    group: IntArray
    choice: IntArray
    limiting: IntArray
    starts: NDArray[np.int32]
    rows: NDArray[np.int32]
    values: FloatArray
    row_lower: FloatArray
    row_upper: FloatArray
    stock_rows: IntArray

    @property
    def picks(self) -> int:
        """How many columns are choices; the rest are greatest uses and then lacks."""
        return len(self.group)

    @property
    def types(self) -> int:
        return len(self.section.types)

    @cached_property
    def runs(self) -> IntArray:
        """How many runs each group has."""
        return np.array([len(group.runs) for group in self.section.groups], dtype=np.int64)

    @cached_property
    def lack_cost(self) -> FloatArray:
        """Objective of least shortage, over all columns."""
        zero = np.zeros(self.picks + self.types)
        return np.concatenate([zero, self.section.lengths.astype(float)])

    @cached_property
    def gear_cost(self) -> FloatArray:
        """Objective of least gear cost, over all columns."""
        joints = self.section.choices.pieces[self.choice] - 1
        price = self.section.price.astype(float)
        return np.concatenate([joints * float(self.section.joint_price), price, np.zeros(self.types)])

    def usage(self, picks: IntArray) -> IntArray:
        """(types, days) of a plan given as whole numbers over the choice columns."""
        section = self.section
        taken = np.nonzero(picks)[0]
        steps = np.zeros((len(section.days) + 1, self.types), dtype=np.int64)
        used = section.choices.counts[self.choice[taken]].astype(np.int64) * picks[taken, None]
        np.add.at(steps, self.first[self.group[taken]], used)
        np.add.at(steps, self.after[self.group[taken]], -used)
        return steps.cumsum(axis=0)[:-1].T

    @cached_property
    def first(self) -> IntArray:
        """The first watched day of each group."""
        return np.array([group.first for group in self.section.groups], dtype=np.int64)

    @cached_property
    def after(self) -> IntArray:
        """The watched day after the last of each group."""
        return np.array([group.last + 1 for group in self.section.groups], dtype=np.int64)

    @cached_property
    def tightest(self) -> IntArray:
        """(types, groups): the least stock of each type on the days of each group."""
        section = self.section
        daily = np.full((self.types, len(section.days)), np.iinfo(np.int64).max // 4)
        for n, (days, stock) in enumerate(zip(section.stock_days, section.stock, strict=True)):
            daily[n, days] = stock
        return np.stack([daily[:, g.first : g.last + 1].min(axis=1) for g in section.groups], axis=1)

    def measure(self, picks: IntArray) -> tuple[int, int]:
        """Shortage and gear cost of a plan, in mm, exactly."""
        section = self.section
        usage = self.usage(picks)
        joints = int((section.choices.pieces[self.choice] - 1) @ picks)
        short = int(section.lengths @ section.lacks(usage))
        return short, int(section.price @ section.peaks(usage)) + joints * section.joint_price

    def completed(self, picks: IntArray) -> FloatArray:
        """A plan over all columns, as HiGHS takes it for a first solution."""
        usage = self.usage(picks)
        return np.concatenate([picks, self.section.peaks(usage), self.section.lacks(usage)]).astype(float)

    def highs(self, cost: FloatArray, most_short: int | None, *, whole: bool) -> highspy.Highs:
        """HiGHS loaded with the program; shortage at most `most_short` mm, whole numbers if `whole`."""
        count = self.picks + 2 * self.types
        upper = np.full(count, INFINITE)
        upper[: self.picks] = self.runs[self.group]
        lacks = np.zeros(self.types) if most_short == 0 else np.where(self.limiting, INFINITE, 0.0)
        upper[self.picks + self.types :] = lacks
        row_upper = self.row_upper.copy()
        row_upper[-1] = INFINITE if most_short is None else most_short
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = count, len(row_upper)
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = cost, np.zeros(count), upper
        lp.row_lower_, lp.row_upper_ = self.row_lower, row_upper
        lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        lp.a_matrix_.start_, lp.a_matrix_.index_, lp.a_matrix_.value_ = self.starts, self.rows, self.values
        if whole:
            lp.integrality_ = [highspy.HighsVarType.kInteger] * count
        highs = quiet_highs()
        highs.passModel(lp)
        return highs


def quiet_highs() -> highspy.Highs:
    """HiGHS that says nothing, on one thread, so that the same work gives the same answer."""
    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("random_seed", 0)
    return highs


def program_of(section: Section) -> Program:
    """The linear program of a section that has at least one group."""
    group = np.concatenate([np.full(len(g.choices), n, dtype=np.int64) for n, g in enumerate(section.groups)])
    choice = np.concatenate([g.choices for g in section.groups])
    limiting = _limiting(section)
    rows_of_day, upper = _day_rows(section, limiting)
    entries = _Entries(section, group, choice, rows_of_day)
    last = len(section.groups) + len(upper)
    starts, rows, values = entries.columns(last)
    runs = np.array([len(g.runs) for g in section.groups], dtype=float)
    return Program(
        section=section,
        group=group,
        choice=choice,
        limiting=limiting,
        starts=starts,
        rows=rows,
        values=values,
        row_lower=np.concatenate([runs, np.full(len(upper) + 1, -INFINITE)]),
        row_upper=np.concatenate([runs, upper, [INFINITE]]),
        stock_rows=rows_of_day[1],
    )


def _limiting(section: Section) -> NDArray[np.int64]:
    """1 for each type whose stock could run short whatever is chosen, 0 where it never can."""
    steps = np.zeros((len(section.types), len(section.days) + 1), dtype=np.int64)
    for group in section.groups:
        most = section.choices.counts[group.choices].max(axis=0).astype(np.int64) * len(group.runs)
        steps[:, group.first] += most
        steps[:, group.last + 1] -= most
    return (section.lacks(steps.cumsum(axis=1)[:, :-1]) > 0).astype(np.int64)


def _day_rows(section: Section, limiting: IntArray) -> tuple[IntArray, FloatArray]:
    """(2, types, days): the row of a type's greatest use and of its stock on a day, -1 where not watched."""
    rows = np.full((2, len(section.types), len(section.days)), -1, dtype=np.int64)
    upper: list[float] = []
    next_row = len(section.groups)
    for n in range(len(section.types)):
        rows[0, n, section.peak_days] = next_row + np.arange(len(section.peak_days))
        next_row += len(section.peak_days)
        upper += [0.0] * len(section.peak_days)
    for n in range(len(section.types)):
        if limiting[n]:
            rows[1, n, section.stock_days[n]] = next_row + np.arange(len(section.stock_days[n]))
            next_row += len(section.stock_days[n])
            upper += section.stock[n].astype(float).tolist()
    return rows, np.array(upper)


class _Entries:
    """The matrix as (column, row, value) triples, then put column by column."""

    def __init__(self, section: Section, group: IntArray, choice: IntArray, rows_of_day: IntArray) -> None:
        self.section = section
        self.group = group
        self.choice = choice
        self.rows_of_day = rows_of_day

    def columns(self, last: int) -> tuple[NDArray[np.int32], NDArray[np.int32], FloatArray]:
        parts = [self._makes(), *self._uses(), *self._measures(last)]
        column, row, value = (np.concatenate(arrays) for arrays in zip(*parts, strict=True))
        order = np.lexsort((row, column))
        count = len(self.group) + 2 * len(self.section.types)
        starts = np.concatenate([[0], np.cumsum(np.bincount(column, minlength=count))])
        return starts.astype(np.int32), row[order].astype(np.int32), value[order]

    def _makes(self) -> Triples:
        """Each choice makes a run of its group."""
        return np.arange(len(self.group)), self.group, np.ones(len(self.group))

    def _uses(self) -> Iterator[Triples]:
        """Each choice uses its pieces on each watched day of its group: one day of every group at a time."""
        first = np.array([group.first for group in self.section.groups])[self.group]
        last = np.array([group.last for group in self.section.groups])[self.group]
        pick, kind = np.nonzero(self.section.choices.counts[self.choice])
        held = self.section.choices.counts[self.choice[pick], kind].astype(float)
        for offset in range(int((last - first).max()) + 1):
            day = first[pick] + offset
            within = day <= last[pick]
            for rows in self.rows_of_day:
                row = np.where(within, rows[kind, np.minimum(day, last[pick])], -1)
                yield pick[row >= 0], row[row >= 0], held[row >= 0]

    def _measures(self, last: int) -> Iterator[Triples]:
        """Greatest uses and lacks stand on the other side of their days' rows; lacks are capped in the last."""
        types = len(self.section.types)
        for number, rows in enumerate(self.rows_of_day):
            kind, day = np.nonzero(rows >= 0)
            column = len(self.group) + number * types + kind
            yield column, rows[kind, day], np.full(len(kind), -1.0)
        lacks = len(self.group) + types + np.arange(types)
        yield lacks, np.full(types, last), self.section.lengths.astype(float)
