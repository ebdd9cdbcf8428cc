"""Why a cover check is short, as numbers that can be checked by hand.

For each short section, the day on which the stock falls furthest behind: how many runs need that section at
once, and how many of them can be made from what is on hand that day, whatever way lengths are joined (a proved
bound: with whole pieces where that is soon settled, else the relaxation's, rounded down); and the other days that
fall behind. Where each single day could be met, the lack comes of days that share gear: a run keeps its pieces, so
what suits one day is still tied up on the next. Then the days that bind are listed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

import highspy
import numpy as np

from jobs.planning.answer import CoverAnswer
from jobs.planning.cover import sections_of
from jobs.planning.limits import Limits
from jobs.planning.model import Section
from jobs.planning.program import INFINITE, program_of, quiet_highs
from jobs.planning.relax import likely, relaxed
from jobs.planning.request import CoverRequest

_TINY = 1e-6
# So long a section's days are looked at with whole pieces, and of days that seem to be met so many of the thinnest.
_WHOLE_SECONDS = 4.0
_TRIED = 4


@dataclass(frozen=True, slots=True)
class ShortDay:
    """On `day`, `wanted` runs of a section are set at once and at most `can_make` can be, however joined.

    `wanted_mm` is the least total length they need, `on_hand_mm` all there is of that section on that day. `also` are
    the other days that fall behind, in order.
    """

    section_mm: int
    day: date
    wanted: int
    can_make: int
    wanted_mm: int
    on_hand_mm: int
    also: tuple[ShortDay, ...] = ()

    @property
    def lacking(self) -> int:
        """How many runs at least cannot be made."""
        return self.wanted - self.can_make

    @property
    def _thinnest(self) -> tuple[int, int]:
        return self.lacking, self.wanted_mm - self.on_hand_mm


@dataclass(frozen=True, slots=True)
class SharedDays:
    """Each day alone could be met; together these days, which share runs, lack at least `short_mm`."""

    section_mm: int
    days: tuple[date, ...]
    short_mm: int


def reasons_short(request: CoverRequest, answer: CoverAnswer) -> tuple[ShortDay | SharedDays, ...]:
    """One reason for each section that an answer finds short, thinnest first; none where the lack is not proved."""
    section_of = {piece.code: piece.section_mm for piece in request.pieces}
    short = {section_of[item.code] for item in answer.short}
    reasons = []
    for section in sections_of(request):
        if section.groups and section.types and section.types[0].section_mm in short:
            reasons += list(_reason(section))
    return tuple(reasons)


def _reason(section: Section) -> Iterator[ShortDay | SharedDays]:
    relaxed_days = [(_short_day(section, at), at) for at in range(len(section.days))]
    behind = sum(found.lacking > 0 for found, _ in relaxed_days)
    thinnest = sorted(relaxed_days, key=lambda each: each[0]._thinnest, reverse=True)
    limits = Limits(_WHOLE_SECONDS)
    days = [_in_whole_pieces(section, *each, limits) for each in thinnest[: max(behind, _TRIED)]]
    short = sorted((found for found in days if found.lacking), key=lambda found: found._thinnest, reverse=True)
    if short:
        yield replace(short[0], also=tuple(sorted(short[1:], key=lambda found: found.day)))
        return
    shared = _shared_days(section)
    if shared.short_mm > 0:
        yield shared


def _short_day(section: Section, at: int) -> ShortDay:
    day = section.days[at]
    on_hand = np.array([kind.count_on(day) for kind in section.types], dtype=np.int64)
    numbers = [n for n, group in enumerate(section.groups) if group.first <= at <= group.last]
    active = [section.groups[n] for n in numbers]
    wanted_mm = sum(int(section.choices.totals[group.choices].min()) * len(group.runs) for group in active)
    return ShortDay(
        section_mm=section.types[0].section_mm,
        day=day,
        wanted=sum(len(group.runs) for group in active),
        can_make=_can_make(section, numbers, on_hand),
        wanted_mm=wanted_mm,
        on_hand_mm=int(section.lengths @ on_hand),
    )


def _in_whole_pieces(section: Section, found: ShortDay, at: int, limits: Limits) -> ShortDay:
    """The same with a bound for whole pieces, while there is time."""
    if limits.left() <= 0:
        return found
    numbers = [n for n, group in enumerate(section.groups) if group.first <= at <= group.last]
    on_hand = np.array([kind.count_on(found.day) for kind in section.types], dtype=np.int64)
    return replace(found, can_make=min(found.can_make, _can_make(section, numbers, on_hand, limits)))


def _can_make(section: Section, active: Sequence[int], on_hand: np.ndarray, whole: Limits | None = None) -> int:
    """The most runs of some groups that `on_hand` pieces can make at once: the relaxation's bound, rounded down; or,
    within the limits `whole`, that of whole pieces."""
    groups = [section.groups[n] for n in active]
    columns = [(at, row) for at, group in enumerate(groups) for row in group.choices]
    counts = section.choices.counts
    entries = [
        [(at, 1.0), *((len(groups) + n, float(counts[row, n])) for n in np.nonzero(counts[row])[0])]
        for at, row in columns
    ]
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(columns), len(groups) + len(on_hand)
    lp.sense_ = highspy.ObjSense.kMaximize
    lp.col_cost_, lp.col_lower_ = np.ones(len(columns)), np.zeros(len(columns))
    lp.col_upper_ = np.full(len(columns), INFINITE)
    lp.row_lower_ = np.full(lp.num_row_, -INFINITE)
    lp.row_upper_ = np.array([*(float(len(group.runs)) for group in groups), *on_hand.astype(float)])
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = np.cumsum([0, *map(len, entries)]).astype(np.int32)
    lp.a_matrix_.index_ = np.array([row for entry in entries for row, _ in entry], dtype=np.int32)
    lp.a_matrix_.value_ = np.array([value for entry in entries for _, value in entry])
    if whole is not None:
        lp.integrality_ = [highspy.HighsVarType.kInteger] * len(columns)
    highs = quiet_highs(whole)
    highs.passModel(lp)
    highs.run()
    info = highs.getInfo()
    bound = info.objective_function_value if whole is None else info.mip_dual_bound
    return sum(len(group.runs) for group in groups) if math.isinf(bound) else math.floor(bound + _TINY)


def _shared_days(section: Section) -> SharedDays:
    """The days on which one piece more would make the relaxation of least shortage less short."""
    program = program_of(section)
    found = relaxed(program, likely(program), None, Limits(), short=True)
    if found is None:
        return SharedDays(section.types[0].section_mm, (), 0)
    binding = np.nonzero(found.prices.sum(axis=0) > _TINY)[0]
    return SharedDays(
        section_mm=section.types[0].section_mm,
        days=tuple(section.days[at] for at in binding),
        short_mm=math.ceil(found.bound - 1e-6 * max(1.0, found.bound)),
    )
