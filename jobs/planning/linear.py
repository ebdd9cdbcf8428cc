"""A scope of a section as a linear program for HiGHS: some choices, some days, and what all else uses.

Columns, in order: one for each choice in scope, how many of its group's runs take it; for each type its
greatest use; for each type its greatest lack; for each type with several levels of stock, its greatest use at
each; last, shortage beyond the cap. Rows: the runs of each group in scope are all made; on each day in scope
the use of each type is at most its greatest use at that day's level; greatest use and lack are not below what
any level makes them; last, sum of length x lack is at most the cap and what is beyond it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import highspy
import numpy as np

from jobs.planning.model import IntArray
from jobs.planning.program import INFINITE, FloatArray, Program

Triples = tuple[IntArray, IntArray, FloatArray]


@dataclass(frozen=True)
class Scope:
    """`columns` are the choices in scope, ascending; `days` the watched days in scope.

    `used` is (types, days) what all else has in use, `floors` the least that greatest use at each level may
    be. Costs in mm: `pick_cost` is (columns,), `peak_cost` and `lack_cost` (types,), `level_cost` (levels,) or
    none; `over_cost` is what each mm of shortage beyond `most_short` costs, infinite if there may be none.
    """

    columns: IntArray
    days: IntArray
    used: IntArray
    floors: IntArray
    pick_cost: FloatArray
    peak_cost: FloatArray
    lack_cost: FloatArray
    most_short: int | None
    over_cost: float = INFINITE
    level_cost: FloatArray | None = None

    def softened(self, over_cost: float) -> Scope:
        """The same with shortage beyond the cap allowed at a cost."""
        return replace(self, over_cost=over_cost)


@dataclass(frozen=True)
class Linear:
    """HiGHS' own form of a scope, and where its rows and columns stand."""

    model: highspy.HighsLp
    groups: IntArray
    usage_rows: IntArray
    level_columns: IntArray
    picks: int
    types: int

    @property
    def count(self) -> int:
        """How many columns there are."""
        return int(self.model.num_col_)

    @property
    def peaks(self) -> slice:
        """The columns of greatest use."""
        return slice(self.picks, self.picks + self.types)

    @property
    def lacks(self) -> slice:
        """The columns of greatest lack."""
        return slice(self.picks + self.types, self.picks + 2 * self.types)


def scope_of(program: Program, columns: IntArray, most_short: int | None, *, short: bool = False) -> Scope:
    """All days and nothing else in use, at least gear cost, or at least shortage if `short`."""
    nothing = np.zeros(program.types)
    return Scope(
        columns=columns,
        days=np.arange(program.days),
        used=np.zeros((program.types, program.days), dtype=np.int64),
        floors=np.zeros(len(program.levels.kind), dtype=np.int64),
        pick_cost=np.zeros(len(columns)) if short else program.joint_cost[columns],
        peak_cost=nothing if short else program.section.price.astype(float),
        lack_cost=program.section.lengths.astype(float) if short else nothing,
        most_short=most_short,
    )


def part_of(
    program: Program, picks: IntArray, free: IntArray, columns: IntArray, most_short: int | None, over_cost: float
) -> Scope:
    """The days of the groups `free`, whose runs are to be composed anew from `columns`; the others stay as in
    `picks`."""
    first, after = int(program.first[free].min()), int(program.after[free].max())
    rest = picks.copy()
    rest[np.isin(program.group, free)] = 0
    used = program.usage(rest)
    return Scope(
        columns=columns,
        days=np.arange(first, after),
        used=used[:, first:after],
        floors=program.level_use(used),
        pick_cost=program.joint_cost[columns],
        peak_cost=program.section.price.astype(float),
        lack_cost=np.zeros(program.types),
        most_short=most_short,
        over_cost=over_cost,
    )


def linear_of(program: Program, scope: Scope) -> Linear:
    """The linear program of a scope."""
    return _Builder(program, scope).linear()


class _Builder:
    """Lays out the columns and the rows of one scope."""

    def __init__(self, program: Program, scope: Scope) -> None:
        self.program, self.scope = program, scope
        self.picks, self.types = len(scope.columns), program.types
        self.groups, self.made_row = np.unique(program.group[scope.columns], return_inverse=True)
        levels = program.levels
        self.peak0, self.lack0 = self.picks, self.picks + self.types
        own0 = self.picks + 2 * self.types
        self.level_column = np.where(levels.split, own0 + np.cumsum(levels.split) - 1, self.peak0 + levels.kind)
        self.own = np.nonzero(levels.split)[0]
        self.tight = np.nonzero(program.limiting[levels.kind])[0]
        self.over = own0 + len(self.own)
        usage = self.types * len(scope.days)
        self.usage_rows = len(self.groups) + np.arange(usage).reshape(self.types, len(scope.days))
        self.own_row0 = len(self.groups) + usage
        self.tight_row0 = self.own_row0 + len(self.own)
        self.cap_row = self.tight_row0 + len(self.tight)

    def linear(self) -> Linear:
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = self.over + 1, self.cap_row + 1
        filled(lp, list(self._entries()))
        lp.col_cost_ = self._costs()
        lp.col_lower_, lp.col_upper_ = self._column_bounds()
        lp.row_lower_, lp.row_upper_ = self._row_bounds()
        return Linear(
            model=lp,
            groups=self.groups,
            usage_rows=self.usage_rows,
            level_columns=self.level_column,
            picks=self.picks,
            types=self.types,
        )

    def _entries(self) -> Iterator[Triples]:
        kind = self.program.levels.kind
        yield np.arange(self.picks), self.made_row, np.ones(self.picks)
        yield from uses_of(self.program, self.scope.columns, self.scope.days, self.usage_rows)
        level = self.level_column[self.program.levels.at[:, self.scope.days]].ravel()
        yield level, self.usage_rows.ravel(), np.full(self.usage_rows.size, -1.0)
        for levels, row0, total0 in (
            (self.own, self.own_row0, self.peak0),
            (self.tight, self.tight_row0, self.lack0),
        ):
            rows = row0 + np.arange(len(levels))
            yield self.level_column[levels], rows, np.ones(len(levels))
            yield total0 + kind[levels], rows, np.full(len(levels), -1.0)
        lengths = self.program.section.lengths.astype(float)
        yield self.lack0 + np.arange(self.types), np.full(self.types, self.cap_row), lengths
        yield np.array([self.over]), np.array([self.cap_row]), np.array([-1.0])

    def _costs(self) -> FloatArray:
        scope = self.scope
        over = 0.0 if scope.over_cost == INFINITE else scope.over_cost
        costs = np.concatenate([scope.pick_cost, scope.peak_cost, scope.lack_cost, np.zeros(len(self.own)), [over]])
        if scope.level_cost is not None:
            np.add.at(costs, self.level_column, scope.level_cost)
        return costs

    def _column_bounds(self) -> tuple[FloatArray, FloatArray]:
        program, floors = self.program, self.scope.floors.astype(float)
        lower, upper = np.zeros(self.over + 1), np.full(self.over + 1, INFINITE)
        np.maximum.at(lower, self.level_column, floors)
        np.maximum.at(lower, self.peak0 + program.levels.kind, floors)
        upper[self.lack0 : self.lack0 + self.types] = np.where(program.limiting, INFINITE, 0.0)
        upper[self.over] = 0.0 if self.scope.over_cost == INFINITE else INFINITE
        return lower, upper

    def _row_bounds(self) -> tuple[FloatArray, FloatArray]:
        scope, levels = self.scope, self.program.levels
        runs = self.program.runs[self.groups].astype(float)
        cap = INFINITE if scope.most_short is None else float(scope.most_short)
        below = [-scope.used.ravel().astype(float), np.zeros(len(self.own)), levels.stock[self.tight].astype(float)]
        upper = np.concatenate([runs, *below, [cap]])
        lower = np.full(len(upper), -INFINITE)
        lower[: len(runs)] = runs
        return lower, upper


def uses_of(program: Program, columns: IntArray, days: IntArray, usage_rows: IntArray) -> Iterator[Triples]:
    """Each choice uses its pieces on each of `days` that its group has: one day of every group at a time.
    `usage_rows` is (types, days)."""
    counts = program.section.choices.counts[program.choice[columns]]
    pick, kind = np.nonzero(counts)
    held = counts[pick, kind].astype(float)
    group = program.group[columns[pick]]
    first, after = np.searchsorted(days, program.first[group]), np.searchsorted(days, program.after[group])
    for offset in range(int((after - first).max(initial=0))):
        within = np.nonzero(first + offset < after)[0]
        yield pick[within], usage_rows[kind[within], first[within] + offset], held[within]


def filled(lp: highspy.HighsLp, parts: Sequence[Triples]) -> None:
    """Lay the entries given as (column, row, value) into the program, column by column."""
    column, row, value = (np.concatenate(arrays) for arrays in zip(*parts, strict=True))
    order = np.lexsort((row, column))
    starts = np.concatenate([[0], np.cumsum(np.bincount(column, minlength=lp.num_col_))])
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = starts.astype(np.int32)
    lp.a_matrix_.index_ = row[order].astype(np.int32)
    lp.a_matrix_.value_ = value[order]
