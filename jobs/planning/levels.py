"""From level to level of a stack with the fewest pieces changed, at the same gear on every day.

Runs of one section that hold their gear on the same days may take each other's pieces: whatever is given to which,
each type's use is the same on every day, and so are shortage, gear cost and joints. So the choices of a plan are
dealt out anew among such runs. Counted is, for every side that has a side under it, how many of its pieces are not
those of the side below: the greater of the two numbers of pieces less what both have.

Exact (a mixed-integer program) while it is small; larger ones go pour by pour, each dealt out exactly with those
above and below as they stand, up and down the stacks until nothing is gained. Never worse than what it was given.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from time import monotonic

import highspy
import numpy as np

from jobs.planning.panels import Panel
from jobs.planning.request import PieceType
from jobs.planning.stacks import by_stack, neighbours

Pattern = tuple[str, ...]
Dealt = dict[str, Pattern]
MOST_ARCS = 20_000
ROUNDS = 6
SECONDS = 5.0


@dataclass(frozen=True, slots=True)
class Slot:
    """One run. Those with the same `group` may take each other's pieces where their bounds (mm) and `seats` allow;
    `below` is the run on the side under it."""

    key: str
    group: Hashable
    least_mm: int
    greatest_mm: int
    seats: int
    below: str | None = None


def changed(low: Sequence[str], high: Sequence[str]) -> int:
    """How many pieces change from one side to the one above it.

    >>> changed(("A", "B"), ("B", "C")), changed(("A",), ("A", "A")), changed(("A", "B"), ("B", "A"))
    (1, 1, 0)
    """
    return max(len(low), len(high)) - (Counter(low) & Counter(high)).total()


_changed = lru_cache(maxsize=100_000)(changed)


def sides_below(panels: Iterable[Panel]) -> dict[str, str]:
    """For each side with a side of the panel below under it, both named as runs are ("A3/2").

    A side lies over the one that faces the same way: on rectangles turned by quarter turns, else on panels with as
    many sides that are not turned.
    """
    found = {}
    for low, high in chain.from_iterable(neighbours(stack) for stack in by_stack(panels).values()):
        count, turns = len(high.outline.sides), high.quarter_turns % 4
        alike = count == len(low.outline.sides)
        if alike and (turns == 0 or (high.outline.is_rectangle and low.outline.is_rectangle)):
            for side in range(count):
                found[f"{high.mark}/{side + 1}"] = f"{low.mark}/{(side + turns) % count + 1}"
    return found


def changes(slots: Iterable[Slot], dealt: Mapping[str, Pattern]) -> int:
    """Pieces changed from level to level, over all sides."""
    return sum(
        changed(dealt[slot.below], dealt[slot.key])
        for slot in slots
        if slot.below in dealt and slot.key in dealt and slot.below is not None
    )


def fits(slot: Slot, pattern: Pattern, types: Mapping[str, PieceType]) -> bool:
    """Whether a choice makes a run: its length within the bounds, and as many splayed ends as seat."""
    kinds = [types[code] for code in pattern]
    if not slot.least_mm <= sum(kind.length_mm for kind in kinds) <= slot.greatest_mm:
        return False
    ends = sum(kind.splayed_ends for kind in kinds) if len(kinds) == 1 else sum(bool(k.splayed_ends) for k in kinds)
    return ends >= slot.seats


def steadied(slots: Sequence[Slot], dealt: Mapping[str, Pattern], types: Mapping[str, PieceType]) -> Dealt:
    """The same choices dealt out so that the fewest pieces change from level to level. Runs without one stay so."""
    mine = [slot for slot in slots if slot.key in dealt]
    table = _Table(mine, {key: tuple(sorted(pattern)) for key, pattern in dealt.items()}, types)
    best = table.deal(set(table.groups), table.dealt) if table.arcs() <= MOST_ARCS else table.swept()
    if changes(mine, best) >= changes(mine, dealt):
        return dict(dealt)
    return best


class _Table:
    """Which choice may go to which run, and what it changes."""

    def __init__(self, slots: Sequence[Slot], dealt: Dealt, types: Mapping[str, PieceType]) -> None:
        self.slots = {slot.key: slot for slot in slots}
        self.dealt = dealt
        self.groups: dict[Hashable, list[Slot]] = defaultdict(list)
        for slot in slots:
            self.groups[slot.group].append(slot)
        self.counts = {g: Counter(dealt[slot.key] for slot in some) for g, some in self.groups.items()}
        self.allowed = {
            slot.key: [p for p in sorted(self.counts[slot.group]) if fits(slot, p, types) or p == dealt[slot.key]]
            for slot in slots
        }
        self.pairs = [(slot.below, slot.key) for slot in slots if slot.below in self.slots]
        self.above: dict[str, list[str]] = defaultdict(list)
        for low, high in self.pairs:
            if low is not None:
                self.above[low].append(high)

    def arcs(self) -> int:
        return sum(len(self.allowed[low]) * len(self.allowed[high]) for low, high in self.pairs if low is not None)

    def swept(self) -> Dealt:
        """Group by group, in order up the stacks and down again, until a round gains nothing or the time is up.
        A group whose neighbours stand as when it was last dealt out is left as it is."""
        now, order, until = dict(self.dealt), list(self.groups), monotonic() + SECONDS
        beside = {group: [key for slot in self.groups[group] for key in self._beside(slot)] for group in order}
        seen: dict[Hashable, int] = {}
        for _ in range(ROUNDS):
            had = dict(now)
            for group in (*order, *reversed(order)):
                around = hash(tuple(now[key] for key in beside[group]))
                if seen.get(group) != around and monotonic() < until:
                    now = self._better({group}, now)
                    seen[group] = around
            if now == had:
                break
        return now

    def _better(self, groups: set[Hashable], now: Dealt) -> Dealt:
        if not any(len(self.allowed[slot.key]) > 1 for group in groups for slot in self.groups[group]):
            return now
        new = self.deal(groups, now)
        return new if changes(self.slots.values(), new) < changes(self.slots.values(), now) else now

    def deal(self, groups: set[Hashable], now: Dealt) -> Dealt:
        """These groups dealt out at the fewest changes, the others as they stand. One group alone is a
        transportation problem, whose corners are whole (Dantzig, 1951)."""
        program = _Program()
        free = [slot for group in groups for slot in self.groups[group]]
        column: dict[tuple[str, Pattern], int] = {}
        for slot in free:
            for pattern in self.allowed[slot.key]:
                column[slot.key, pattern] = program.column(
                    self._fixed_cost(slot, pattern, groups, now), whole=len(groups) > 1
                )
            program.row([column[slot.key, p] for p in self.allowed[slot.key]], 1)
        for group in groups:
            for pattern, count in self.counts[group].items():
                takers = [column[s.key, pattern] for s in self.groups[group] if (s.key, pattern) in column]
                program.row(takers, count)
        for low, high in self.pairs:
            if low is not None and self._free(low, groups) and self._free(high, groups):
                self._pair(program, column, low, high)
        found = program.solved()
        if found is None:
            return now
        return {**now, **{key: pattern for (key, pattern), at in column.items() if found[at] > 0.5}}

    def _free(self, key: str, groups: set[Hashable]) -> bool:
        return self.slots[key].group in groups

    def _fixed_cost(self, slot: Slot, pattern: Pattern, groups: set[Hashable], now: Dealt) -> float:
        return sum(_changed(now[key], pattern) for key in self._beside(slot) if not self._free(key, groups))

    def _beside(self, slot: Slot) -> list[str]:
        """The runs below and above it."""
        below = [slot.below] if slot.below is not None and slot.below in self.slots else []
        return below + self.above[slot.key]

    def _pair(self, program: _Program, column: Mapping[tuple[str, Pattern], int], low: str, high: str) -> None:
        """One unit flows from the choice below to the choice above, at the cost of what changes."""
        flow = {(p, q): program.column(_changed(p, q)) for p in self.allowed[low] for q in self.allowed[high]}
        for p in self.allowed[low]:
            program.row([flow[p, q] for q in self.allowed[high]], 0, minus=column[low, p])
        for q in self.allowed[high]:
            program.row([flow[p, q] for p in self.allowed[low]], 0, minus=column[high, q])


class _Program:
    """Columns between 0 and 1, rows that sum to a number, least cost: gathered, then solved by HiGHS."""

    def __init__(self) -> None:
        self.costs: list[float] = []
        self.whole: list[bool] = []
        self.rows: list[tuple[list[int], int, int | None]] = []

    def column(self, cost: float, whole: bool = False) -> int:
        self.costs.append(cost)
        self.whole.append(whole)
        return len(self.costs) - 1

    def row(self, columns: list[int], total: int, minus: int | None = None) -> None:
        self.rows.append((columns, total, minus))

    def solved(self) -> list[float] | None:
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.costs), len(self.rows)
        lp.col_cost_ = np.array(self.costs)
        lp.col_lower_, lp.col_upper_ = np.zeros(len(self.costs)), np.ones(len(self.costs))
        totals = np.array([float(total) for _, total, _ in self.rows])
        lp.row_lower_ = lp.row_upper_ = totals
        index, value, start = [], [], [0]
        for columns, _, minus in self.rows:
            index += columns if minus is None else [*columns, minus]
            value += [1.0] * len(columns) + ([] if minus is None else [-1.0])
            start.append(len(index))
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.array(start, dtype=np.int32)
        lp.a_matrix_.index_ = np.array(index, dtype=np.int32)
        lp.a_matrix_.value_ = np.array(value)
        integer, real = highspy.HighsVarType.kInteger, highspy.HighsVarType.kContinuous
        lp.integrality_ = [integer if whole else real for whole in self.whole]
        highs = highspy.Highs()
        highs.setOptionValue("output_flag", False)
        highs.setOptionValue("threads", 1)
        highs.setOptionValue("random_seed", 0)
        highs.setOptionValue("time_limit", SECONDS)
        highs.passModel(lp)
        highs.run()
        if highs.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return None
        return list(highs.getSolution().col_value)
