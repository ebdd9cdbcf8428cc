"""Which pours move by how many working days, as a program: a column for each pour and each move that it may make.

Rows only ever say what every covered programme keeps: stack order and cycles, panels a day, articles counted day by
day, and limits from the prices of the edge forms. So no moves that keep to all rows are fewer than the truth.
Limits are found as they are broken: first those of the day prices known so far, on every day at once; where none of
them is broken, the relaxation gives new prices. That is done with moves left fractional until little is lacking, so
that whole moves are only looked for once the rows are sharp.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

import highspy
import numpy as np

from jobs.planning.goods import level
from jobs.planning.limits import Limits
from jobs.planning.pours import PourDays
from jobs.planning.program import INFINITE, quiet_highs
from jobs.planning.remedies.cuts import FloatArray, Held, Prices
from jobs.planning.remedies.solving import stop_if
from jobs.planning.remedies.timeline import Timeline

TINY = 1e-6
_SLACK = 1e-4
Row = dict[int, float]


@dataclass(frozen=True, slots=True)
class Bounds:
    """How far pours may move, in working days either way, and what a day may hold.

    `today` is the last day on which nothing more can be set. `panels_a_day` None: as many as the programme's
    busiest day. `panels_a_crew` is for each of `crews`; a crew may share a pour. `cycle_days` are working days
    from casting one level to casting the next.
    """

    today: date
    earlier: int = 10
    later: int = 15
    cycle_days: int = 0
    panels_a_day: int | None = None
    panels_a_crew: int | None = None
    crews: int = 1


@dataclass(frozen=True)
class Solved:
    """What a solve came to: `values` of the columns, None where it found none; `none` is a proof that there is none;
    `least` the proved least number of pours."""

    values: FloatArray | None
    none: bool
    least: int


@dataclass(frozen=True)
class _DayPrice:
    """A price of each type for one day, whichever it is: what each column then comes to, and each day's limit."""

    worths: FloatArray
    limits: FloatArray


class Master:
    """The program with the rows it has so far."""

    def __init__(self, timeline: Timeline, bounds: Bounds) -> None:
        self.timeline, self.bounds = timeline, bounds
        self.names = [pour.name for pour in timeline.pours]
        reach = range(-bounds.earlier, bounds.later + 1)
        self.days: dict[tuple[str, int], PourDays] = {
            (name, shift): timeline.days(name, shift) for name in self.names for shift in reach
        }
        self.columns = [(name, shift) for name in self.names for shift in self._allowed(name)]
        self.at = {column: number for number, column in enumerate(self.columns)}
        self.spans = [self.days[column].held for column in self.columns]
        self.pour_at = np.array([self.names.index(name) for name, _ in self.columns], dtype=np.int64)
        self.fixed_rows: list[tuple[Row, float]] = [*self._stack_rows(), *self._day_rows(), *self._goods_rows()]
        self.limit_rows: list[tuple[Row, float]] = []
        self.not_again: list[tuple[Row, float]] = []
        self._watch_days()
        sections = sorted({run.section_mm for run in timeline.request.runs})
        self.sections = [Prices(timeline.request, mm, self.names) for mm in sections]
        self.pool: list[_DayPrice] = []
        self.known: set[bytes] = set()
        for section in self.sections:
            self._keep_day_price(section, section.lengths)

    def _watch_days(self) -> None:
        """The days on which a load can be greatest: where some pour is set, or the stock steps."""
        starts = {start for start, _ in self.spans}
        steps = {day for kind in self.timeline.request.pieces for day, _ in kind.on_hand if day > min(starts)}
        self.watched = sorted(starts | {day for day in steps if day < max(until for _, until in self.spans)})
        self.cover = np.array(
            [[float(start <= day < until) for start, until in self.spans] for day in self.watched], dtype=float
        )

    def _allowed(self, name: str) -> Iterator[int]:
        yield 0
        if self.timeline.by_name[name].fixed:
            return
        for shift in range(-self.bounds.earlier, self.bounds.later + 1):
            if shift and self.days[name, shift].set > self.bounds.today:
                yield shift

    def _stack_rows(self) -> Iterator[tuple[Row, float]]:
        """The lower pour moved so far or further rules out the moves of the upper one that would be too soon after it.

        Two that are too close as they stand may stay so.
        """
        shifts: dict[str, list[int]] = defaultdict(list)
        for name, shift in self.columns:
            shifts[name].append(shift)
        for low, high in self.timeline.above:
            close = self._too_soon(low, 0, high, 0)
            for shift in shifts[low]:
                bad = [other for other in shifts[high] if self._too_soon(low, shift, high, other)]
                if close and 0 in bad and shift <= 0:
                    bad.remove(0)
                    if shift:
                        yield {self.at[low, shift]: 1.0, self.at[high, 0]: 1.0}, 1.0
                if bad:
                    further = {self.at[low, more]: 1.0 for more in shifts[low] if more >= shift}
                    yield further | {self.at[high, other]: 1.0 for other in bad}, 1.0

    def _too_soon(self, low: str, shift: int, high: str, other: int) -> bool:
        below, above = self.days[low, shift], self.days[high, other]
        if above.set < below.strip:
            return True
        cycle = self.bounds.cycle_days
        return bool(cycle) and self.timeline.calendar.count(below.cast, above.cast) < cycle

    def _day_rows(self) -> Iterator[tuple[Row, float]]:
        """A day holds no more panels than it may, or than it holds already."""
        now: Counter[date] = Counter()
        rows: dict[date, Row] = defaultdict(dict)
        for name, shift in self.columns:
            pour = self.timeline.by_name[name]
            cast = self.days[name, shift].cast
            rows[cast][self.at[name, shift]] = float(pour.panels)
            now[cast] += 0 if shift else pour.panels
        most = self._most_a_day(now)
        for day, row in rows.items():
            if sum(row.values()) > max(most, now[day]):
                yield row, float(max(most, now[day]))

    def _most_a_day(self, now: Counter[date]) -> int:
        most = self.bounds.panels_a_day or max(now.values(), default=0)
        if self.bounds.panels_a_crew:
            most = min(most, self.bounds.panels_a_crew * self.bounds.crews)
        return most

    def _goods_rows(self) -> Iterator[tuple[Row, float]]:
        """Of each article no day needs more than is on hand: counted at the least that any runs need,
        so that these rows are never stricter than the truth."""
        starts = {start for start, _ in self.spans}
        for article in self.timeline.least:
            needs = dict(article.by_pour)
            for day in sorted(starts | {since for since, _ in article.stock if since > min(starts)}):
                row = {
                    at: float(needs[name])
                    for at, ((name, _), (start, until)) in enumerate(zip(self.columns, self.spans, strict=True))
                    if needs.get(name) and start <= day and (article.used_up or day < until)
                }
                most = float(max(0, level(article.stock, day)) - article.standing)
                if sum(row.values()) > most:
                    yield row, most

    def keeps(self, shifts: Mapping[str, int]) -> bool:
        """Whether moves keep stacks, cycles, panels a day and articles."""
        taken = {self.at.get((name, shifts.get(name, 0))) for name in self.names}
        if None in taken:
            return False
        return all(
            sum(row.get(at, 0.0) for at in taken if at is not None) <= most + TINY for row, most in self.fixed_rows
        )

    def lacks(self, shifts: Mapping[str, int]) -> bool:
        """Whether a price known so far shows that moves are not covered: at once, where a check takes seconds."""
        return bool(self._broken(self._values(shifts)))

    def _values(self, shifts: Mapping[str, int]) -> FloatArray:
        values = np.zeros(len(self.columns))
        values[[self.at[name, shifts.get(name, 0)] for name in self.names]] = 1.0
        return values

    def shifts_of(self, values: FloatArray) -> dict[str, int]:
        """The pours that move, of whole values."""
        return {name: shift for (name, shift), value in zip(self.columns, values, strict=True) if shift and value > 0.5}

    def learn(self, values: FloatArray, least_lack: float, limits: Limits) -> bool:
        """Whether limits rule these values out; the broken ones are then rows."""
        broken = self._broken(values)
        if not broken:
            taken = self._taken(values)
            for section in self.sections:
                prices = section.prices(taken, least_lack, limits)
                if prices is not None:
                    broken += self._learnt(section, prices, values)
        self.limit_rows += broken
        return bool(broken)

    def _taken(self, values: FloatArray) -> dict[Held, float]:
        found: dict[Held, float] = defaultdict(float)
        for at in np.nonzero(values > TINY)[0].tolist():
            found[self.columns[at][0], self.spans[at]] += float(values[at])
        return dict(found)

    def _learnt(
        self, section: Prices, prices: Mapping[date, FloatArray], values: FloatArray
    ) -> list[tuple[Row, float]]:
        worths = section.worths_on(prices, self.spans)
        of_column = np.array([worths[span][pour] for span, pour in zip(self.spans, self.pour_at, strict=True)])
        for each in prices.values():
            self._keep_day_price(section, each)
        rows = [self._row(of_column, section.limit(prices))]
        return [row for row in rows if self._breaks(row, values)] + self._broken(values)

    def _keep_day_price(self, section: Prices, each: FloatArray) -> None:
        scaled = each / max(float(each.max()), TINY)
        key = bytes([self.sections.index(section) if hasattr(self, "sections") else 0]) + np.round(scaled, 4).tobytes()
        if key not in self.known:
            self.known.add(key)
            worths = section.worths(each)[self.pour_at]
            self.pool.append(_DayPrice(worths, np.array([float(each @ section.on_hand(day)) for day in self.watched])))

    def _broken(self, values: FloatArray) -> list[tuple[Row, float]]:
        """Rows for the days on which a known day price is broken."""
        found = []
        for price in self.pool:
            loads = self.cover @ (price.worths * values)
            over = loads - price.limits
            for k in np.nonzero(over > 2 * _SLACK * np.maximum(price.limits, price.worths.max()) + TINY)[0].tolist():
                found.append(self._row(price.worths * self.cover[k], float(price.limits[k])))
        return found

    def _row(self, worths: FloatArray, limit: float) -> tuple[Row, float]:
        """Scaled so that its limit is about 1, and eased by what rounding may have cost it."""
        scale = max(limit, float(worths.max()), 1.0)
        return {at: float(worths[at]) / scale for at in np.nonzero(worths > TINY)[0].tolist()}, limit / scale + _SLACK

    def _breaks(self, row: tuple[Row, float], values: FloatArray) -> bool:
        return sum(float(values[at]) * share for at, share in row[0].items()) > row[1] + TINY

    def rule_out(self, values: FloatArray) -> None:
        """These moves, all together, not again."""
        taken = np.nonzero(values > 0.5)[0].tolist()
        self.not_again.append((dict.fromkeys(taken, 1.0), len(taken) - 1.0))

    def solve(
        self,
        limits: Limits,
        *,
        whole: bool,
        eased: float = 0.0,
        seconds: float = float("inf"),
        days_too: bool = True,
        only: Collection[str] | None = None,
        start: Mapping[str, int] | None = None,
    ) -> Solved:
        """The fewest moves that keep every row, and of as many the fewest days if `days_too`. With `eased`, limits
        are so much tighter than the truth: what is found then is likelier to be covered, and nothing is proved. Pours
        not in `only` stay where they are. `start` are moves known to do."""
        highs = self._programme(whole, eased, days_too, only)
        left = min(limits.left(), seconds)
        if left < float("inf"):
            highs.setOptionValue("time_limit", left)
        if limits.watch is not None:
            highs.cbMipInterrupt += stop_if(limits.watch)
        if start is not None:
            given = highspy.HighsSolution()
            given.col_value = self._values(start).tolist()
            highs.setSolution(given)
        highs.run()
        status, info = highs.getModelStatus(), highs.getInfo()
        if status == highspy.HighsModelStatus.kInfeasible:
            return Solved(None, not eased, 0)
        bound = info.mip_dual_bound if whole else info.objective_function_value
        least = (
            self._least(bound, days_too) if not eased and (whole or status == highspy.HighsModelStatus.kOptimal) else 0
        )
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return Solved(None, False, least)
        return Solved(np.array(highs.getSolution().col_value), False, least)

    @property
    def _one(self) -> int:
        """One pour more is dearer than any days fewer."""
        return len(self.names) * max(self.bounds.earlier, self.bounds.later) + 1

    def _least(self, bound: float, days_too: bool) -> int:
        """The least number of pours that cost so much: each costs one and its days, all days less than one.

        A solver stopped before it knew anything says minus infinity.
        """
        if not np.isfinite(bound):
            return 0
        if not days_too:
            return max(0, int(np.ceil(bound - 1e-4)))
        if bound < 1 - TINY:
            return 0
        return max(1, int(np.ceil((bound - (self._one - 1)) / self._one - TINY)))

    def _programme(self, whole: bool, eased: float, days_too: bool, only: Collection[str] | None) -> highspy.Highs:
        limit_rows = [(row, most * (1 - eased)) for row, most in self.limit_rows]
        once = [({int(at): 1.0 for at in np.nonzero(self.pour_at == n)[0]}, 1.0) for n in range(len(self.names))]
        rows = [*once, *self.fixed_rows, *limit_rows, *self.not_again]
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.columns), len(rows)
        one = self._one if days_too else 0
        costs = [float(one + abs(shift)) if one else 1.0 for _, shift in self.columns]
        lp.col_cost_ = np.array([cost if shift else 0.0 for cost, (_, shift) in zip(costs, self.columns, strict=True)])
        may = [1.0 if only is None or not shift or name in only else 0.0 for name, shift in self.columns]
        lp.col_lower_, lp.col_upper_ = np.zeros(len(self.columns)), np.array(may)
        lp.row_lower_ = np.array([1.0] * len(once) + [-INFINITE] * (len(rows) - len(once)))
        lp.row_upper_ = np.array([most for _, most in rows])
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.cumsum([0, *(len(row) for row, _ in rows)]).astype(np.int32)
        lp.a_matrix_.index_ = np.array([at for row, _ in rows for at in row], dtype=np.int32)
        lp.a_matrix_.value_ = np.array([value for row, _ in rows for value in row.values()])
        if whole:
            lp.integrality_ = [highspy.HighsVarType.kInteger] * len(self.columns)
        highs = quiet_highs()
        highs.passModel(lp)
        highs.setOptionValue("mip_rel_gap", 0.0)
        highs.setOptionValue("mip_abs_gap", 0.5 if days_too else 0.999)
        return highs
