"""Plans that nearly keep within a room: every run's choice is drawn anew, again and again, ever less at random.

A run is given each of its choices with a probability that falls with what the choice adds: joints, and pieces over
the room on its days (the heat-bath rule of simulated annealing: S. Kirkpatrick, C. D. Gelatt & M. P. Vecchi, Science
220, 1983; S. Geman & D. Geman, IEEE PAMI 6, 1984). Runs that share no day leave each other alone, so such a round of
runs, and several copies of the plan, are drawn at once. Random numbers have fixed seeds: the same work gives the
same plans.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jobs.planning.limits import Limits
from jobs.planning.model import IntArray
from jobs.planning.program import Program
from jobs.planning.relax import Relaxation
from jobs.planning.rooms import Room

_REACH_MM = 300.0
_CHOICES = 24
_LIKELY = 2
_SWEEPS = 120
_HOT_MM, _COLD_MM = 60.0, 15.0
_OVER_MM = 150.0
_NEVER = 1e9
_POOL = 1 << 20

Singles = NDArray[np.float32]


@dataclass(frozen=True)
class Round:
    """Runs that share no day. `days` is (runs, days) those each is active on, filled up with a day that never binds;
    `counts` (runs, choices, types); `asks` (runs, types x numbers, choices) is 1 where a choice takes that many of
    that type; `joints` (runs, choices) what its joints cost."""

    runs: IntArray
    days: IntArray
    counts: Singles
    asks: Singles
    joints: Singles


class Annealing:
    """Draws plans for the groups that a room leaves open, from the choices near `found`."""

    def __init__(self, program: Program, found: Relaxation, room: Room, seed: int) -> None:
        self.program, self.room, self.rng = program, room, np.random.default_rng(seed)
        open_ = np.nonzero(~room.core)[0]
        self.columns = _padded(program, found, open_)
        self.run = np.repeat(np.arange(len(open_)), program.runs[open_])
        self.group = open_[self.run]
        self.rounds = [self._round(np.array(runs), open_) for runs in _apart(program, self.group)]
        self.noise = self.rng.gumbel(size=_POOL).astype(np.float32)
        # Where the relaxation says that a piece of room is worth much, going over it must cost at least that.
        prices = np.concatenate([room.prices.T, np.zeros((1, program.types))])
        self.over_cost = (_OVER_MM + prices).astype(np.float32)

    def plans(self, copies: int, limits: Limits) -> list[IntArray]:
        """So many plans over all of the program's columns, those of the room's core included."""
        now = self._drawn(copies)
        spare = self._spare(now)
        for heat in np.geomspace(_HOT_MM, _COLD_MM, _SWEEPS):
            if limits.over():
                break
            for each in self.rounds:
                self._draw_anew(each, now, spare, float(heat))
        return [self._picks(copy) for copy in now]

    def _draw_anew(self, each: Round, now: IntArray, spare: Singles, heat: float) -> None:
        """Give the runs of a round a choice each, drawn by what it adds; (copies, runs, ...) all along."""
        copies, count = len(now), np.arange(len(each.runs))
        at = np.arange(copies)[:, None, None], each.days[None]
        without = spare[at] - each.counts[count, now[:, each.runs]][:, :, None, :]
        taken = np.arange(each.asks.shape[1] // self.program.types, dtype=np.float32)
        over = np.maximum(without[..., None] + taken, 0.0)
        added = (over * self.over_cost[each.days][..., None]).sum(axis=2).reshape(copies, len(count), -1)
        worth = np.matmul(added.transpose(1, 0, 2), each.asks).transpose(1, 0, 2) + each.joints
        worth -= heat * self._some_noise(worth.shape)
        new = worth.argmin(axis=2)
        now[:, each.runs] = new
        spare[at] = without + each.counts[count, new][:, :, None, :]

    def _some_noise(self, shape: tuple[int, ...]) -> Singles:
        size = int(np.prod(shape))
        first = int(self.rng.integers(0, max(1, len(self.noise) - size)))
        return np.resize(self.noise[first : first + size], shape)

    def _drawn(self, copies: int) -> IntArray:
        """(copies, runs): choices drawn by the fractions that the room leaves."""
        real = self.columns >= 0
        likely = np.where(real, np.maximum(self.room.likely[self.columns], 0.0) + 1e-9, 0.0)
        reached = np.cumsum(likely / likely.sum(axis=1, keepdims=True), axis=1)[self.run]
        place = (self.rng.random((copies, len(self.run), 1)) > reached[None]).sum(axis=2)
        drawn: IntArray = np.minimum(place, real.sum(axis=1)[self.run] - 1)
        return drawn

    def _spare(self, now: IntArray) -> Singles:
        """(copies, days and one that never binds, types): what is in use less the room for it."""
        beyond = [(self.program.usage(self._picks(copy)) - self.room.most).T for copy in now]
        never = np.full((len(now), 1, self.program.types), -_NEVER)
        return np.concatenate([np.array(beyond, dtype=float), never], axis=1).astype(np.float32)

    def _picks(self, copy: IntArray) -> IntArray:
        picks = self.room.picks.copy()
        np.add.at(picks, self.columns[self.run, copy], 1)
        return picks

    def _round(self, runs: IntArray, open_: IntArray) -> Round:
        program, groups = self.program, self.group[runs]
        first, after = program.first[groups], program.after[groups]
        days = first[:, None] + np.arange(int((after - first).max()))
        columns = self.columns[self.run[runs]]
        real = columns >= 0
        counts = program.section.choices.counts[program.choice[columns]] * real[..., None]
        numbers = np.arange(int(program.section.choices.pieces.max(initial=1)) + 1)
        asks = (counts[..., None] == numbers).reshape(*columns.shape, -1).transpose(0, 2, 1)
        return Round(
            runs=runs,
            days=np.where(days < after[:, None], days, program.days),
            counts=counts.astype(np.float32),
            asks=np.ascontiguousarray(asks, dtype=np.float32),
            joints=np.where(real, program.joint_cost[columns], _NEVER).astype(np.float32),
        )


def _padded(program: Program, found: Relaxation, groups: IntArray) -> IntArray:
    """(groups, choices): the columns each group may draw from, filled up with -1."""
    rank = program.rank(found.reduced)
    keep = ((found.reduced <= _REACH_MM) & (rank < _CHOICES)) | (rank < _LIKELY)
    own = [np.nonzero(keep[program.edges[g] : program.edges[g + 1]])[0] + program.edges[g] for g in groups]
    padded = np.full((len(groups), max(map(len, own), default=1)), -1, dtype=np.int64)
    for at, columns in enumerate(own):
        padded[at, : len(columns)] = columns
    return padded


def _apart(program: Program, group: IntArray) -> Iterator[list[int]]:
    """The runs, given by their groups, in the fewest rounds of runs that share no day: as many as are active on the
    fullest day."""
    rounds: list[list[int]] = []
    free: list[tuple[int, int]] = []
    for run in np.argsort(program.first[group], kind="stable"):
        if free and free[0][0] <= program.first[group[run]]:
            _, at = heapq.heappop(free)
        else:
            at = len(rounds)
            rounds.append([])
        rounds[at].append(int(run))
        heapq.heappush(free, (int(program.after[group[run]]), at))
    yield from rounds
