"""A section as columns: one for each (group, choice), how many of the group's runs take that choice.

A plan is whole numbers over those columns. What it uses, lacks and costs is measured here, exactly.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import highspy
import numpy as np
from numpy.typing import NDArray

from jobs.planning.limits import Limits
from jobs.planning.model import IntArray, Section

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
INFINITE = float(highspy.kHighsInf)


@dataclass(frozen=True)
class Levels:
    """The levels of stock of all types, one after another: of which type (`kind`), how many on hand (`stock`),
    whether its type has several (`split`); `at` is (types, days) the level that each day has."""

    kind: IntArray
    stock: IntArray
    split: BoolArray
    at: IntArray

    @classmethod
    def of(cls, on_hand: IntArray) -> Levels:
        """Levels of stock given as (types, days)."""
        kinds: list[int] = []
        stocks: list[int] = []
        at = np.zeros_like(on_hand)
        for n, counts in enumerate(on_hand):
            found, place = np.unique(counts, return_inverse=True)
            at[n] = len(kinds) + place
            kinds += [n] * len(found)
            stocks += found.tolist()
        kind = np.array(kinds, dtype=np.int64)
        several = np.bincount(kind, minlength=len(on_hand)) > 1
        return cls(kind, np.array(stocks, dtype=np.int64), several[kind], at)


@dataclass(frozen=True)
class Program:
    """The columns of a section. `limiting` is true for types whose stock could run short whatever is chosen."""

    section: Section
    group: IntArray
    choice: IntArray
    limiting: BoolArray

    @property
    def picks(self) -> int:
        """How many columns there are."""
        return len(self.group)

    @property
    def types(self) -> int:
        return len(self.section.types)

    @property
    def days(self) -> int:
        return len(self.section.days)

    @cached_property
    def levels(self) -> Levels:
        return Levels.of(self.section.on_hand)

    @cached_property
    def runs(self) -> IntArray:
        """How many runs each group has."""
        return np.array([len(group.runs) for group in self.section.groups], dtype=np.int64)

    @cached_property
    def edges(self) -> IntArray:
        """Where each group's columns begin, and after the last where they end."""
        return np.searchsorted(self.group, np.arange(len(self.runs) + 1))

    @cached_property
    def first(self) -> IntArray:
        """The first watched day of each group."""
        return np.array([group.first for group in self.section.groups], dtype=np.int64)

    @cached_property
    def after(self) -> IntArray:
        """The watched day after the last of each group."""
        return np.array([group.last + 1 for group in self.section.groups], dtype=np.int64)

    @cached_property
    def joint_cost(self) -> FloatArray:
        """What the joints of each column cost."""
        return ((self.section.choices.pieces[self.choice] - 1) * self.section.joint_price).astype(float)

    @cached_property
    def tightest(self) -> IntArray:
        """(types, groups): the least stock of each type on the days of each group."""
        on_hand = self.section.on_hand
        return np.stack([on_hand[:, g.first : g.last + 1].min(axis=1) for g in self.section.groups], axis=1)

    def usage(self, picks: IntArray) -> IntArray:
        """(types, days) of a plan given as whole numbers over the columns."""
        section = self.section
        taken = np.nonzero(picks)[0]
        steps = np.zeros((len(section.days) + 1, self.types), dtype=np.int64)
        used = section.choices.counts[self.choice[taken]].astype(np.int64) * picks[taken, None]
        np.add.at(steps, self.first[self.group[taken]], used)
        np.add.at(steps, self.after[self.group[taken]], -used)
        return steps.cumsum(axis=0)[:-1].T

    def measure(self, picks: IntArray) -> tuple[int, int]:
        """Shortage and gear cost of a plan, in mm, exactly."""
        section = self.section
        usage = self.usage(picks)
        joints = int((section.choices.pieces[self.choice] - 1) @ picks)
        short = int(section.lengths @ section.lacks(usage))
        return short, int(section.price @ usage.max(axis=1, initial=0)) + joints * section.joint_price

    def about(self, day: int, most: int) -> BoolArray:
        """The groups active on a day, and on more and more days about it while they are at most `most`."""
        free: BoolArray = (self.first <= day) & (self.after > day)
        for reach in range(1, self.days):
            wider = (self.first <= day + reach) & (self.after > day - reach)
            if wider.sum() > most:
                break
            free = wider
        return free

    def level_use(self, usage: IntArray) -> IntArray:
        """The greatest use at each level of stock, for what is in use as (types, days)."""
        most = np.zeros(len(self.levels.kind), dtype=np.int64)
        np.maximum.at(most, self.levels.at, usage)
        return most

    def rank(self, worth: FloatArray) -> IntArray:
        """The place of each column among its group's by a worth, least first, from 0."""
        order = np.lexsort((worth, self.group))
        places = np.empty(self.picks, dtype=np.int64)
        places[order] = np.arange(self.picks)
        return places - self.edges[self.group]

    def priced(self, daily: FloatArray) -> FloatArray:
        """For each column what its pieces come to at a price for each type and day, (types, days)."""
        section = self.section
        sums = np.concatenate([np.zeros((self.types, 1)), daily.cumsum(axis=1)], axis=1)
        spans, of_group = np.unique(np.stack([self.first, self.after]), axis=1, return_inverse=True)
        prices = (sums[:, spans[1]] - sums[:, spans[0]]).T
        worth = prices @ section.choices.counts.T.astype(float)
        each: FloatArray = worth[of_group.ravel()[self.group], self.choice]
        return each


def quiet_highs(limits: Limits | None = None) -> highspy.Highs:
    """HiGHS that says nothing, on one thread, so that the same work gives the same answer."""
    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("random_seed", 0)
    if limits is not None and limits.left() < float("inf"):
        highs.setOptionValue("time_limit", limits.left())
    return highs


def program_of(section: Section) -> Program:
    """The columns of a section that has at least one group."""
    return Program(
        section=section,
        group=np.concatenate([np.full(len(g.choices), n, dtype=np.int64) for n, g in enumerate(section.groups)]),
        choice=np.concatenate([g.choices for g in section.groups]),
        limiting=_limiting(section),
    )


def _limiting(section: Section) -> BoolArray:
    steps = np.zeros((len(section.types), len(section.days) + 1), dtype=np.int64)
    for group in section.groups:
        most = section.choices.counts[group.choices].max(axis=0).astype(np.int64) * len(group.runs)
        steps[:, group.first] += most
        steps[:, group.last + 1] -= most
    return section.lacks(steps.cumsum(axis=1)[:, :-1]) > 0
