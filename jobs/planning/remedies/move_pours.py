"""Move pours: the fewest pours to move, and of as many the fewest working days, so that the job is covered.

Kept: what stands on a pour in a stack is set when that is stripped and no sooner than a cycle after it is cast;
the greatest number of panels in a day, in all and for the crews there are; what is set or cast stays.
A master programme says which moves to try; the relaxation's prices say what is wrong with them and the cover
check whether they do. The master is never stricter than the truth, so the first moves that do are the fewest.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date

import highspy
import numpy as np

from jobs.planning.goods import level
from jobs.planning.limits import Limits
from jobs.planning.pours import PourDays
from jobs.planning.program import INFINITE, quiet_highs
from jobs.planning.remedies.board import stop_if
from jobs.planning.remedies.cuts import Cut, Prices
from jobs.planning.remedies.push_back import pushed_back
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.remedies.wait import covered_within

_TINY = 1e-6
_MOST_ROUNDS = 400
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
class MoveAnswer:
    """The pours to move, each by so many working days, earlier if negative; None where none were found.

    `least` is the proved least number of pours. `proved`: no fewer would do, or no moves within bounds do.
    """

    shifts: Mapping[str, int] | None
    proved: bool
    least: int
    rounds: int = 0


def move_pours(timeline: Timeline, bounds: Bounds, limits: Limits) -> MoveAnswer:
    """The fewest pours to move so that the job is covered."""
    master = _Master(timeline, bounds)
    found = pushed_back(timeline, bounds.later, master.keeps, limits.within(0.35))
    answer = master.search(limits)
    if not found or answer.shifts is not None or answer.proved:
        return answer
    return MoveAnswer(found, len(found) <= answer.least, min(answer.least, len(found)), answer.rounds)


@dataclass
class _Master:
    """Which pour moves by how many days: a column for each. Rows only ever say what must hold."""

    timeline: Timeline
    bounds: Bounds
    columns: list[tuple[str, int]] = field(default_factory=list)
    rows: list[tuple[Row, float]] = field(default_factory=list)
    days: dict[tuple[str, int], PourDays] = field(default_factory=dict)
    at: dict[tuple[str, int], int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.days = {
            (pour.name, shift): self.timeline.days(pour.name, shift)
            for pour in self.timeline.pours
            for shift in range(-self.bounds.earlier, self.bounds.later + 1)
        }
        for pour in self.timeline.pours:
            self.columns += [(pour.name, shift) for shift in self._allowed(pour.name)]
        self.at = {column: number for number, column in enumerate(self.columns)}
        self.rows += [*self._stack_rows(), *self._day_rows(), *self._goods_rows()]
        request = self.timeline.request
        self.prices = [Prices(request, mm) for mm in sorted({run.section_mm for run in request.runs})]

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

    def keeps(self, shifts: Mapping[str, int]) -> bool:
        """Whether moves keep every row there is."""
        taken = {self.at.get((pour.name, shifts.get(pour.name, 0))) for pour in self.timeline.pours}
        if None in taken:
            return False
        return all(sum(row.get(at, 0.0) for at in taken if at is not None) <= most + _TINY for row, most in self.rows)

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

    def _goods_rows(self) -> Iterator[tuple[Row, float]]:
        """Of each article no day needs more than is on hand: counted, so that these rows are the whole truth."""
        spans = {column: self.days[column].held for column in self.columns}
        starts = {start for start, _ in spans.values()}
        for article in self.timeline.articles:
            needs = dict(article.by_pour)
            for day in sorted(starts | {since for since, _ in article.stock if since > min(starts)}):
                row = {
                    self.at[column]: float(needs[column[0]])
                    for column, (start, until) in spans.items()
                    if needs.get(column[0]) and start <= day and (article.used_up or day < until)
                }
                most = float(level(article.stock, day) - article.standing)
                if sum(row.values()) > most:
                    yield row, most

    def _most_a_day(self, now: Counter[date]) -> int:
        most = self.bounds.panels_a_day or max(now.values(), default=0)
        if self.bounds.panels_a_crew:
            most = min(most, self.bounds.panels_a_crew * self.bounds.crews)
        return most

    def search(self, limits: Limits) -> MoveAnswer:
        proved, least = True, 0
        for turn in range(_MOST_ROUNDS):
            if limits.over():
                break
            found = self._solve(limits)
            if found is None:
                break
            if not found:
                return MoveAnswer(None, proved, least, turn)
            moved = {name: shift for name, shift in found.items() if shift}
            least = max(least, len(moved))
            limits.tell(min(0.9, turn / 60), f"Trying to move {len(moved)} pour{'s' if len(moved) != 1 else ''}")
            if self._learn(found, limits):
                continue
            answer = covered_within(self.timeline.moved(moved), limits)
            if answer.covered:
                return MoveAnswer(moved, proved, len(moved) if proved else least, turn)
            proved = proved and answer.proved
            self._rule_out(found)
        return MoveAnswer(None, False, least, _MOST_ROUNDS)

    def _learn(self, found: Mapping[str, int], limits: Limits) -> bool:
        """Whether the relaxation rules these moves out; what it says is then kept."""
        runs = self.timeline.moved({name: shift for name, shift in found.items() if shift}).runs
        cuts = [cut for prices in self.prices if (cut := prices.cut(runs, limits))]
        rows = [self._row_of(cut) for cut in cuts]
        self.rows += rows
        taken = {self.at[name, shift] for name, shift in found.items()}
        if cuts and not any(sum(row.get(at, 0.0) for at in taken) > most + _TINY for row, most in rows):
            self._rule_out(found)
        return bool(cuts)

    def _rule_out(self, found: Mapping[str, int]) -> None:
        """These moves, all together, not again."""
        self.rows.append(({self.at[name, shift]: 1.0 for name, shift in found.items()}, len(found) - 1.0))

    def _row_of(self, cut: Cut) -> tuple[Row, float]:
        """A cut as a row, scaled so that its limit is about 1, and eased by what rounding may have cost it."""
        worths = {
            self.at[name, shift]: cut.worth(self.timeline.runs_of[name], self.days[name, shift].held)
            for name, shift in self.columns
        }
        scale = max([cut.limit, *worths.values(), 1.0])
        return {at: worth / scale for at, worth in worths.items() if worth > _TINY}, cut.limit / scale + _SLACK

    def _solve(self, limits: Limits) -> dict[str, int] | None:
        """The cheapest moves that keep every row; empty where there are none, None where time ran out."""
        highs = self._programme()
        if limits.left() < float("inf"):
            highs.setOptionValue("time_limit", limits.left())
        if limits.watch is not None:
            highs.cbMipInterrupt += stop_if(limits.watch)
        highs.run()
        status = highs.getModelStatus()
        if status == highspy.HighsModelStatus.kInfeasible:
            return {}
        if status != highspy.HighsModelStatus.kOptimal:
            return None
        taken = np.array(highs.getSolution().col_value)
        return {name: shift for (name, shift), value in zip(self.columns, taken, strict=True) if value > 0.5}

    def _programme(self) -> highspy.Highs:
        names = [pour.name for pour in self.timeline.pours]
        once: list[tuple[Row, float]] = [
            ({self.at[name, shift]: 1.0 for n, shift in self.columns if n == name}, 1.0) for name in names
        ]
        rows = [*once, *self.rows]
        # One pour more is dearer than any days fewer.
        one = len(names) * max(self.bounds.earlier, self.bounds.later) + 1
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.columns), len(rows)
        lp.col_cost_ = np.array([float(one + abs(shift)) if shift else 0.0 for _, shift in self.columns])
        lp.col_lower_, lp.col_upper_ = np.zeros(len(self.columns)), np.ones(len(self.columns))
        lp.row_lower_ = np.array([1.0] * len(once) + [-INFINITE] * len(self.rows))
        lp.row_upper_ = np.array([most for _, most in rows])
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.cumsum([0, *(len(row) for row, _ in rows)]).astype(np.int32)
        lp.a_matrix_.index_ = np.array([at for row, _ in rows for at in row], dtype=np.int32)
        lp.a_matrix_.value_ = np.array([value for row, _ in rows for value in row.values()])
        lp.integrality_ = [highspy.HighsVarType.kInteger] * len(self.columns)
        highs = quiet_highs()
        highs.passModel(lp)
        highs.setOptionValue("mip_rel_gap", 0.0)
        highs.setOptionValue("mip_abs_gap", 0.5)
        return highs
