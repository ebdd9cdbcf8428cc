"""Mends a plan a few days at a time until it keeps under a ceiling of pieces in use.

Runs only touch on the days they share, so where a plan uses too much of something, all the runs about that
day are composed anew, the others staying as they are, at least excess and then fewest joints. Each such
window is a small whole-number program that is settled at once; the plan never gets worse.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import highspy
import numpy as np

from jobs.planning.limits import Limits
from jobs.planning.model import IntArray
from jobs.planning.program import INFINITE, FloatArray, Program, quiet_highs
from jobs.planning.whole import BoolArray

_REACH = 3
_MOST_TRIES = 3
_NODES = 60


@dataclass(frozen=True)
class Windows:
    """`ceiling` is (types, days): what may be in use; `price` what one piece too many of a type counts for.
    Only choices in `keep`, and those of the plan itself, are considered."""

    program: Program
    limits: Limits
    ceiling: IntArray
    price: FloatArray
    keep: BoolArray

    def mended(self, picks: IntArray, rounds: int) -> IntArray:
        """The plan with what exceeds the ceiling taken off, worst day first, as far as that goes."""
        tries: Counter[int] = Counter()
        for _ in range(rounds):
            over = self.price @ np.maximum(self.program.usage(picks) - self.ceiling, 0)
            over[[day for day, times in tries.items() if times >= _MOST_TRIES]] = 0
            if self.limits.over() or not over.any():
                break
            day = int(over.argmax())
            picks = self._anew(picks, day - _REACH - 2 * tries[day], day + _REACH + 2 * tries[day])
            tries[day] += 1
        return picks

    def polished(self, picks: IntArray) -> IntArray:
        """The plan with fewer joints where some days allow it under the ceiling, once over all days."""
        days = len(self.program.section.days)
        for day in range(0, days, 2 * _REACH):
            if self.limits.over():
                break
            picks = self._anew(picks, day - _REACH, day + _REACH)
        return picks

    def _anew(self, picks: IntArray, first: int, last: int) -> IntArray:
        """The runs active on days `first` to `last` composed anew."""
        program = self.program
        free = (program.first <= last) & (program.after > first)
        columns = np.nonzero(free[program.group] & (self.keep | (picks > 0)))[0]
        if not len(columns):
            return picks
        rest = picks.copy()
        rest[columns] = 0
        first, after = int(program.first[free].min()), int(program.after[free].max())
        room = (self.ceiling - program.usage(rest))[:, first:after]
        highs = self._programme(columns, room, first)
        solution = highspy.HighsSolution()
        over = np.maximum(program.usage(picks - rest)[:, first:after] - room, 0).max(axis=1, initial=0)
        solution.col_value = [*picks[columns].astype(float), *over.astype(float)]
        highs.setSolution(solution)
        highs.run()
        if highs.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return picks
        rest[columns] = np.rint(np.array(highs.getSolution().col_value)[: len(columns)]).astype(np.int64)
        return rest

    def _programme(self, columns: IntArray, room: IntArray, first: int) -> highspy.Highs:
        """Columns: choices, then each type's excess. Rows: each free group made, each type and day within room."""
        program = self.program
        groups, row_of_group = np.unique(program.group[columns], return_inverse=True)
        types, days = room.shape
        at, row, value = [np.arange(len(columns))], [row_of_group], [np.ones(len(columns))]
        pick, kind = np.nonzero(program.section.choices.counts[program.choice[columns]])
        held = program.section.choices.counts[program.choice[columns[pick]], kind].astype(float)
        begins, ends = (edge[program.group[columns[pick]]] - first for edge in (program.first, program.after))
        for offset in range(int((ends - begins).max())):
            within = begins + offset < ends
            at.append(pick[within])
            row.append(len(groups) + (kind * days + begins + offset)[within])
            value.append(held[within])
        every_row = np.arange(types * days)
        at.append(len(columns) + every_row // days)
        row.append(len(groups) + every_row)
        value.append(np.full(types * days, -1.0))
        column, rows, values = np.concatenate(at), np.concatenate(row), np.concatenate(value)
        order = np.lexsort((rows, column))
        count = len(columns) + types
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = count, len(groups) + types * days
        lp.col_cost_ = np.concatenate([program.gear_cost[columns], self.price])
        lp.col_lower_ = np.zeros(count)
        most = program.runs[program.group[columns]].astype(float)
        lp.col_upper_ = np.concatenate([most, np.full(types, INFINITE)])
        made = program.runs[groups].astype(float)
        # A row of a group is met exactly; what the rest of the plan already has too much of is no one's fault.
        lp.row_lower_ = np.concatenate([made, np.full(types * days, -INFINITE)])
        lp.row_upper_ = np.concatenate([made, room.ravel().astype(float)])
        lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        starts = np.concatenate([[0], np.cumsum(np.bincount(column, minlength=count))])
        lp.a_matrix_.start_, lp.a_matrix_.index_ = starts.astype(np.int32), rows[order].astype(np.int32)
        lp.a_matrix_.value_ = values[order]
        lp.integrality_ = [highspy.HighsVarType.kInteger] * count
        highs = quiet_highs()
        highs.passModel(lp)
        highs.setOptionValue("mip_max_nodes", _NODES)
        highs.setOptionValue("mip_rel_gap", 0.0)
        if self.limits.left() < float("inf"):
            highs.setOptionValue("time_limit", self.limits.left())
        return highs
