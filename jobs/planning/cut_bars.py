"""Cuts pieces from mill bars at fewest bars, least length or least cost, and proves it.

One-dimensional cutting stock (Gilmore & Gomory, Operations Research 9, 1961): the relaxation over all ways to
cut a bar is solved by making ways as they are wanted; then a whole plan of the ways made; and where that does
not meet the bound, every way that a better plan could use is listed and the whole programme solved over them.
Rounding the relaxation up is not always reached (Scheithauer & Terno 1995), so it is never taken as proof
that a plan exists.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import highspy
import numpy as np

from jobs.errors import BadRequest
from jobs.planning.cut_patterns import Cut, every_cut, most_valuable
from jobs.planning.cutting import CutAnswer, CutRequest, Pattern
from jobs.planning.limits import Limits
from jobs.planning.program import INFINITE, quiet_highs

_MOST_CUTS = 60_000
_TINY = 1e-7
Way = tuple[int, Cut]


@dataclass(frozen=True)
class Relaxed:
    """The relaxation's bound, the value of each piece, what a bar's scarcity takes off, how often each way is
    taken."""

    bound: float
    values: list[float]
    scarce: list[float]
    taken: list[float]


class _Saw:
    """One request with lengths merged, kerf folded in, and the ways to cut known so far."""

    def __init__(self, request: CutRequest, limits: Limits) -> None:
        self.request = request
        self.limits = limits
        wanted: Counter[int] = Counter()
        for piece in request.pieces:
            if piece.count:
                wanted[piece.length_mm] += piece.count
        self.lengths = sorted(wanted, reverse=True)
        self.counts = [wanted[length] for length in self.lengths]
        self.with_kerf = [length + request.kerf_mm for length in self.lengths]
        self.rooms = [bar.length_mm + request.kerf_mm for bar in request.bars]
        self.worth = [request.worth(bar) for bar in request.bars]
        self.step = _common_step(self.worth)
        total = sum(self.counts)
        self.most = [total if bar.count is None else bar.count for bar in request.bars]
        self.missing_worth = 1e3 * (max(self.worth) + 1)
        self.ways: list[Way] = list(dict.fromkeys(self._plain_ways()))

    def _plain_ways(self) -> list[Way]:
        """Each bar filled with one length and then, longest first, with what else fits."""
        ways = []
        for at, room in enumerate(self.rooms):
            for first in range(len(self.lengths)):
                cut, left = [0] * len(self.lengths), room
                for n in [first, *range(len(self.lengths))]:
                    more = min(self.counts[n] - cut[n], left // self.with_kerf[n])
                    cut[n] += more
                    left -= more * self.with_kerf[n]
                if any(cut):
                    ways.append((at, tuple(cut)))
        return ways

    def programme(self, ways: Sequence[Way], *, whole: bool) -> highspy.Highs:
        """Columns: a way each, then a missing piece of each length. Rows: each length wanted, each bar's count."""
        pieces, bars = len(self.lengths), len(self.rooms)
        columns = [[(n, float(held)) for n, held in enumerate(cut) if held] + [(pieces + at, 1.0)] for at, cut in ways]
        columns += [[(n, 1.0)] for n in range(pieces)]
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(columns), pieces + bars
        lp.col_cost_ = np.array([self.worth[at] for at, _ in ways] + [self.missing_worth] * pieces)
        lp.col_lower_, lp.col_upper_ = np.zeros(len(columns)), np.full(len(columns), INFINITE)
        lp.row_lower_ = np.array([*map(float, self.counts), *([-INFINITE] * bars)])
        lp.row_upper_ = np.array([*([INFINITE] * pieces), *map(float, self.most)])
        lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        lp.a_matrix_.start_ = np.cumsum([0, *map(len, columns)]).astype(np.int32)
        lp.a_matrix_.index_ = np.array([row for column in columns for row, _ in column], dtype=np.int32)
        lp.a_matrix_.value_ = np.array([value for column in columns for _, value in column])
        if whole:
            lp.integrality_ = [highspy.HighsVarType.kInteger] * len(columns)
        highs = quiet_highs()
        highs.passModel(lp)
        return highs

    def relax(self) -> Relaxed:
        """The relaxation, ways made as they are wanted; a bound of 0 where time ran out before it was proved."""
        while True:
            highs = self.programme(self.ways, whole=False)
            highs.run()
            solution = highs.getSolution()
            duals = np.array(solution.row_dual)
            values, scarce = duals[: len(self.lengths)].tolist(), duals[len(self.lengths) :].tolist()
            known = set(self.ways)
            cuts = most_valuable(self.with_kerf, values, self.counts, self.rooms)
            new = [(at, cut) for at, (value, cut) in enumerate(cuts) if self._pays(at, value + scarce[at])]
            new = [way for way in new if way not in known]
            if not new or self.limits.over():
                bound = 0.0 if new else highs.getInfo().objective_function_value
                return Relaxed(bound, values, scarce, list(solution.col_value)[: len(self.ways)])
            self.ways += new

    def _pays(self, at: int, value: float) -> bool:
        return value > self.worth[at] + _TINY * max(1.0, self.worth[at])

    def dive(self) -> None:
        """Make more ways: take the way the relaxation uses most, and relax again for the pieces left."""
        counts, most = self.counts, self.most
        try:
            while any(self.counts) and not self.limits.over():
                taken = self.relax().taken
                best = max(range(len(taken)), key=lambda n: taken[n] - math.floor(taken[n] + _TINY) * 1e-3)
                if taken[best] <= _TINY:
                    return
                times = max(1, math.floor(taken[best] + _TINY))
                at, cut = self.ways[best]
                self.counts = [max(0, left - held * times) for left, held in zip(self.counts, cut, strict=True)]
                self.most = [left - times * (n == at) for n, left in enumerate(self.most)]
        finally:
            self.counts, self.most = counts, most

    def lifted(self, bound: float) -> float:
        """The least value that bars can add up to and that is not below `bound`."""
        if self.step is None:
            return bound
        return float(math.ceil(Fraction(bound - 1e-6 * max(1.0, abs(bound))) / self.step) * self.step)

    def best_of(
        self, ways: Sequence[Way], start: Sequence[tuple[Way, int]] | None, nodes: int
    ) -> tuple[list[tuple[Way, int]] | None, float]:
        """A whole plan over `ways` that makes everything, or None, and what is proved of plans over them."""
        highs = self.programme(ways, whole=True)
        highs.setOptionValue("mip_rel_gap", 0.0)
        highs.setOptionValue("mip_abs_gap", float(self.step or 0) * 0.99)
        highs.setOptionValue("mip_max_nodes", nodes)
        if self.limits.left() < float("inf"):
            highs.setOptionValue("time_limit", self.limits.left())
        if start is not None:
            place = {way: n for n, way in enumerate(ways)}
            solution = highspy.HighsSolution()
            values = [0.0] * (len(ways) + len(self.lengths))
            for way, times in start:
                values[place[way]] = float(times)
            solution.col_value = values
            highs.setSolution(solution)
        highs.run()
        info = highs.getInfo()
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return None, info.mip_dual_bound
        counts = [round(value) for value in highs.getSolution().col_value]
        if any(counts[len(ways) :]):
            return None, info.mip_dual_bound
        return [(ways[n], count) for n, count in enumerate(counts[: len(ways)]) if count], info.mip_dual_bound

    def value_of(self, plan: Sequence[tuple[Way, int]]) -> float:
        """What a plan counts for."""
        return sum(self.worth[at] * times for (at, _), times in plan)

    def ways_below(self, gap: float, values: Sequence[float], scarce: Sequence[float]) -> list[Way] | None:
        """Every way whose reduced cost is at most `gap`: a plan that much above the relaxation uses no other."""
        ways: list[Way] = []
        for at, room in enumerate(self.rooms):
            least = self.worth[at] - scarce[at] - gap
            cuts = every_cut(
                self.with_kerf, self.counts, room, _MOST_CUTS - len(ways), values=values, least_value=least
            )
            if cuts is None:
                return None
            ways += [(at, cut) for cut in cuts]
        return ways


def _common_step(worth: Sequence[float]) -> Fraction | None:
    """The greatest amount that every bar's worth is a multiple of; None where it is too fine to help."""
    parts = [Fraction(str(value)).limit_denominator(1000) for value in worth if value]
    if not parts:
        return None
    bottom = math.lcm(*(part.denominator for part in parts))
    step = Fraction(math.gcd(*(int(part * bottom) for part in parts)), bottom)
    return step if step >= Fraction(1, 100) else None


def cut_bars(request: CutRequest, seconds: float | None = None) -> CutAnswer:
    """The cutting list. Raises `BadRequest` where the bars there are cannot give the pieces wanted."""
    saw = _Saw(request, Limits(seconds))
    if not saw.lengths:
        return _answer(saw, [], 0.0)
    relaxed = saw.relax()
    bound = saw.lifted(relaxed.bound)
    plan, _ = saw.best_of(saw.ways, None, 2000)
    if plan is None or saw.value_of(plan) > bound + _TINY:
        saw.dive()
        better, _ = saw.best_of(saw.ways, plan, 2000)
        plan = better or plan
    if plan is None or saw.value_of(plan) > bound + _TINY:
        plan, bound = _settled(saw, plan, bound, relaxed)
    if plan is None:
        raise _not_enough(bound > sum(worth * most for worth, most in zip(saw.worth, saw.most, strict=True)))
    return _answer(saw, plan, bound)


def _settled(
    saw: _Saw, plan: list[tuple[Way, int]] | None, bound: float, relaxed: Relaxed
) -> tuple[list[tuple[Way, int]] | None, float]:
    """The best plan over every way that a better plan could use, and the bound that this proves."""
    ceiling = saw.missing_worth * sum(saw.counts) if plan is None else saw.value_of(plan)
    ways = saw.ways_below(ceiling - relaxed.bound, relaxed.values, relaxed.scarce)
    if ways is None:
        return plan, bound
    ways = list(dict.fromkeys([*ways, *(way for way, _ in plan or [])]))
    better, proved = saw.best_of(ways, plan, 200_000)
    return better or plan, max(bound, saw.lifted(min(proved, ceiling)))


def _not_enough(surely: bool) -> BadRequest:
    if surely:
        return BadRequest("bars", "cannot give all the pieces wanted; add bars, or ask for fewer pieces.")
    return BadRequest("bars", "gave no full cutting list within the limits; add bars, or allow more seconds.")


def _answer(saw: _Saw, plan: Sequence[tuple[Way, int]], bound: float) -> CutAnswer:
    bars = saw.request.bars
    cuts = _trimmed(saw, plan)
    used = Counter({at: 0 for at, _ in cuts})
    for (at, _), times in cuts.items():
        used[at] += times
    cost = None
    if all(bars[at].cost is not None for at in used):
        cost = float(sum(Fraction(str(bars[at].cost)) * times for at, times in used.items()))
    value = float(sum(saw.worth[at] * times for at, times in used.items()))
    patterns = [Pattern(bars[at].length_mm, times, pieces) for (at, pieces), times in cuts.items()]
    return CutAnswer(
        bars_used=sum(used.values()),
        length_used_mm=sum(bars[at].length_mm * times for at, times in used.items()),
        cost=cost,
        bound=min(bound, value),
        proved=value <= bound + 1e-6 * max(1.0, value),
        patterns=tuple(sorted(patterns, key=lambda cut: (-cut.bar_mm, [-length for length in cut.pieces]))),
    )


def _trimmed(saw: _Saw, plan: Sequence[tuple[Way, int]]) -> Counter[Way]:
    """(bar, pieces) with times; pieces beyond those wanted are left off, longest first."""
    spare = [-count for count in saw.counts]
    for (_, cut), times in plan:
        spare = [left + held * times for left, held in zip(spare, cut, strict=True)]
    alike: Counter[Way] = Counter()
    for (at, cut), times in sorted(plan):
        for _ in range(times):
            pieces: list[int] = []
            for n, held in enumerate(cut):
                off = min(held, spare[n])
                spare[n] -= off
                pieces += [saw.lengths[n]] * (held - off)
            if pieces:
                alike[at, tuple(pieces)] += 1
    return alike
