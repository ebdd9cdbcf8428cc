"""A whole-number plan from a fractional one: keep what is whole, then give each run left what it has most of.

Among choices the fraction does not settle, the run takes the one that raises shortage least, then gear cost.
"""

from __future__ import annotations

import numpy as np

from jobs.planning.model import IntArray
from jobs.planning.program import FloatArray, Program

_TINY = 1e-6


def rounded(program: Program, fractional: FloatArray) -> IntArray:
    """Whole numbers of choices that make every run, near `fractional` over the choice columns."""
    picks = np.floor(fractional + _TINY).astype(np.int64)
    made = np.bincount(program.group, weights=picks, minlength=len(program.runs)).astype(np.int64)
    left = program.runs - made
    usage = program.usage(picks)
    peaks = usage.max(axis=1, initial=0)
    edges = np.searchsorted(program.group, np.arange(len(program.runs) + 1))
    rest = fractional - picks
    for at in np.nonzero(left > 0)[0]:
        columns = np.arange(edges[at], edges[at + 1])
        for _ in range(int(left[at])):
            column = _cheapest(program, int(at), columns, usage, peaks, rest)
            picks[column] += 1
            rest[column] -= 1
            _take(program, int(at), column, usage, peaks)
    return picks


def _cheapest(program: Program, at: int, columns: IntArray, usage: IntArray, peaks: IntArray, rest: FloatArray) -> int:
    section = program.section
    group = section.groups[at]
    counts = section.choices.counts[program.choice[columns]].astype(np.int64)
    top = usage[:, group.first : group.last + 1].max(axis=1)
    over = np.maximum(top + counts - peaks, 0)
    stock = program.tightest[:, at]
    before = np.maximum(top - stock, 0)
    lack = (np.maximum(top + counts - stock, 0) - before) @ section.lengths
    cost = over @ section.price + program.joint_cost[columns] - rest[columns] * 0.5 * section.lengths.mean()
    return int(columns[np.lexsort((cost, lack))[0]])


def _take(program: Program, at: int, column: int, usage: IntArray, peaks: IntArray) -> None:
    group = program.section.groups[at]
    part = usage[:, group.first : group.last + 1]
    part += program.section.choices.counts[program.choice[column]].astype(np.int64)[:, None]
    np.maximum(peaks, part.max(axis=1), out=peaks)
