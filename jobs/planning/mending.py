"""Brings a plan into a room: the runs about some day are composed anew, exactly, again and again, until it fits.

What is made least is what joints cost and what pieces over the room do, on each day by itself. A plan's cost hangs
on the fullest day alone, so that composing other days anew would never show a gain there; this sum does.
"""

from __future__ import annotations

from dataclasses import dataclass

import highspy
import numpy as np

from jobs.planning.limits import Limits
from jobs.planning.linear import Linear, Triples, filled, uses_of
from jobs.planning.model import IntArray
from jobs.planning.program import INFINITE, BoolArray, FloatArray, Program
from jobs.planning.relax import Relaxation
from jobs.planning.rooms import Room
from jobs.planning.whole import settled

_LIKELY = 2
_SIZES = ((30, 150.0), (45, 100.0), (70, 60.0), (110, 30.0))
_NODES = 5
_SECONDS = 1.2
_GAP_MM = 50.0
_OVER_MM = 200.0
_DEARER = 1.2
_STIR_MM = 1.0
_IDLE = 0.02
_SHARE = 0.7
_SHORT = 20.0


class Mending:
    """Mends plans of one room, with the choices near `found` and near the room's own relaxation."""

    def __init__(self, program: Program, found: Relaxation, room: Room, seed: int) -> None:
        self.program, self.room, self.rng = program, room, np.random.default_rng(seed)
        self.likely = program.rank(room.reduced) < _LIKELY
        # Going over must cost more than room is worth where it is worth most, or the room would not be kept.
        self.over_cost = np.maximum(_OVER_MM, _DEARER * np.maximum(found.prices, room.prices))

    def worth(self, picks: IntArray) -> float:
        """What a plan comes to in mm: the room, its joints, and what it is over."""
        over = np.maximum(self.program.usage(picks) - self.room.most, 0)
        return self.room.spent + float(self.program.joint_cost @ picks) + float((over * self.over_cost).sum())

    def mended(self, picks: IntArray, goal: float, limits: Limits) -> IntArray:
        """The plan brought to at most `goal`, or as near as windows bring it, wider ones once narrow ones do not.
        What is still over then is brought down at what it truly costs."""
        kept, part = self.over_cost, limits.within(_SHARE)
        for size, reach in _SIZES:
            picks = self.windowed(picks, size, reach, goal, part)
        if (self.program.usage(picks) > self.room.most).any():
            self.over_cost = self._true_cost()
            for size, reach in _SIZES[:2]:
                picks = self.windowed(picks, size, reach, goal, limits)
            self.over_cost = kept
        return picks

    def windowed(self, picks: IntArray, size: int, reach: float, goal: float, limits: Limits) -> IntArray:
        """Windows about one day after another, until none makes the plan better."""
        now, tried = self.worth(picks), np.zeros(self.program.days, dtype=bool)
        while not self.fits(picks, goal) and not tried.all() and not limits.over():
            day = self._some_day(picks, tried)
            free = self.program.about(day, size)
            new = self._composed(picks, free, reach, now - goal, limits)
            worth = self.worth(new)
            if worth < now - _STIR_MM:
                self._try_again(tried, free)
            tried[day] = True
            if worth <= now + _STIR_MM:
                picks, now = new, worth
        return picks

    def _true_cost(self) -> FloatArray:
        """What a piece over costs: where stock ends it is short, elsewhere one more is in use at most."""
        section = self.program.section
        at_stock = self.program.limiting[:, None] & (self.room.most >= section.on_hand)
        return np.where(at_stock, _SHORT * section.lengths[:, None], section.price[:, None]).astype(float)

    def fits(self, picks: IntArray, goal: float) -> bool:
        """Whether a plan keeps within the room and comes to at most `goal`."""
        return self.worth(picks) <= goal and not (self.program.usage(picks) > self.room.most).any()

    def _some_day(self, picks: IntArray, tried: BoolArray) -> int:
        """A day drawn by how much is over on it, of those not tried."""
        over = np.maximum(self.program.usage(picks) - self.room.most, 0).sum(axis=0) + _IDLE
        over[tried] = 0.0
        return int(self.rng.choice(len(over), p=over / over.sum()))

    def _try_again(self, tried: BoolArray, free: BoolArray) -> None:
        """What was changed may let the days about it gain again."""
        span = int((self.program.after - self.program.first).max())
        first, after = int(self.program.first[free].min()), int(self.program.after[free].max())
        tried[max(0, first - span) : after + span] = False

    def _composed(self, picks: IntArray, free: BoolArray, reach: float, wanted: float, limits: Limits) -> IntArray:
        mine = free[self.program.group]
        near = (self.room.reduced <= reach) | self.likely | (picks > 0)
        columns = np.nonzero(mine & near)[0]
        rest = np.where(mine, 0, picks)
        window = _Window(self, columns, self.room.most - self.program.usage(rest), picks)
        outcome = settled(
            window.linear(),
            limits.at_most(_SECONDS),
            nodes=_NODES,
            start=window.start(),
            gap_mm=_GAP_MM,
            target=window.worth() - wanted if wanted > 0 else -INFINITE,
        )
        if outcome.picks is None:
            return picks
        rest[columns] = outcome.picks
        return rest


@dataclass(frozen=True)
class _Window:
    """Columns, in order: the choices; for each type and day what is over. Rows: the runs of each group are made;
    each type's use on each day is within `most`, (types, days), or over it."""

    mending: Mending
    columns: IntArray
    most: IntArray
    picks: IntArray

    @property
    def _days(self) -> IntArray:
        program = self.mending.program
        groups = program.group[self.columns]
        return np.arange(int(program.first[groups].min()), int(program.after[groups].max()))

    def linear(self) -> Linear:
        program, days, picks = self.mending.program, self._days, len(self.columns)
        groups, made_row = np.unique(program.group[self.columns], return_inverse=True)
        most, rows = self.most[:, days], len(groups)
        usage_rows = rows + np.arange(most.size).reshape(most.shape)
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = picks + most.size, rows + most.size
        entries: list[Triples] = [(np.arange(picks), made_row, np.ones(picks))]
        entries += uses_of(program, self.columns, days, usage_rows)
        entries.append((picks + np.arange(most.size), usage_rows.ravel(), np.full(most.size, -1.0)))
        filled(lp, entries)
        stir = _STIR_MM * self.mending.rng.random(picks)
        lp.col_cost_ = np.concatenate([program.joint_cost[self.columns] + stir, self._over_cost()])
        lp.col_lower_, lp.col_upper_ = np.zeros(lp.num_col_), np.full(lp.num_col_, INFINITE)
        runs = program.runs[groups].astype(float)
        lp.row_lower_ = np.concatenate([runs, np.full(most.size, -INFINITE)])
        lp.row_upper_ = np.concatenate([runs, most.ravel().astype(float)])
        return Linear(lp, groups, usage_rows, np.arange(0), picks, program.types)

    def start(self) -> FloatArray:
        """The plan in hand as HiGHS takes it for a first solution."""
        return np.concatenate([self.picks[self.columns], self._over()]).astype(float)

    def worth(self) -> float:
        """What the plan in hand comes to here."""
        joints = self.mending.program.joint_cost[self.columns] @ self.picks[self.columns]
        return float(joints) + float(self._over_cost() @ self._over())

    def _over_cost(self) -> FloatArray:
        cost: FloatArray = self.mending.over_cost[:, self._days].ravel()
        return cost

    def _over(self) -> IntArray:
        mine = np.zeros(self.mending.program.picks, dtype=np.int64)
        mine[self.columns] = self.picks[self.columns]
        over: IntArray = np.maximum(self.mending.program.usage(mine) - self.most, 0)[:, self._days].ravel()
        return over
