"""Cut new forms from mill bars: what the check's plan lacks, which is the least there can be, from the cheapest bars.

The cutting itself is exact. That the forms cut are those of the check's plan is a choice: other lengths of the
same total might come out of fewer bars.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from jobs.errors import BadRequest
from jobs.planning.answer import Short
from jobs.planning.cut_bars import cut_bars
from jobs.planning.cutting import Bar, CutRequest, Pattern, Wanted
from jobs.planning.limits import Limits
from jobs.planning.request import CoverRequest, PieceType


@dataclass(frozen=True, slots=True)
class MillLength:
    """A bar the mill sells: section and length in mm, whole cents, how many (None: any number), and from which day
    forms cut from it can be on site."""

    section_mm: int
    length_mm: int
    cents: int
    start: date
    count: int | None = None


@dataclass(frozen=True, slots=True)
class BarCut:
    """So many bars of a section cut alike into these forms, longest first, each for so many cents; `start`: forms can
    be on site from then."""

    section_mm: int
    bar_mm: int
    times: int
    forms: tuple[PieceType, ...]
    start: date
    cents: int


@dataclass(frozen=True)
class BarsAnswer:
    """The cutting list; empty with the reason where there is none. `proved`: no bars for these forms cost less."""

    cuts: tuple[BarCut, ...] = ()
    cents: int = 0
    bars: int = 0
    proved: bool = False
    reason: str = ""


def new_bars(
    request: CoverRequest, short: Sequence[Short], mill: Sequence[MillLength], kerf_mm: int, limits: Limits
) -> BarsAnswer:
    """The cheapest bars from which everything that is short can be cut, in time."""
    types = {piece.code: piece for piece in request.pieces}
    sections = sorted({types[item.code].section_mm for item in short})
    cuts: list[BarCut] = []
    cents, bars, proved = 0, 0, True
    for section in sections:
        mine = [item for item in short if types[item.code].section_mm == section]
        first = min(item.first for item in mine)
        usable = [bar for bar in mill if bar.section_mm == section and bar.start <= first]
        if not usable:
            return BarsAnswer(reason=f"No mill bar of section {section} mm is listed that would be here in time.")
        wanted: Counter[int] = Counter()
        for item in mine:
            wanted[types[item.code].length_mm] += item.count
        asked = CutRequest(
            tuple(Bar(bar.length_mm, bar.cents, bar.count) for bar in usable),
            tuple(Wanted(length, count) for length, count in sorted(wanted.items())),
            kerf_mm,
            "cost",
        )
        longest = max(bar.length_mm for bar in usable)
        if max(wanted) > longest:
            return BarsAnswer(reason=f"A form of {max(wanted)} mm is longer than the longest bar of {section} mm.")
        try:
            answer = cut_bars(asked, None if limits.left() == float("inf") else limits.left())
        except BadRequest:
            return BarsAnswer(reason=f"There are too few mill bars of section {section} mm.")
        forms = [types[item.code] for item in mine for _ in range(item.count)]
        by_length = {bar.length_mm: bar for bar in usable}
        cuts += [
            BarCut(section, bar_mm, times, made, by_length[bar_mm].start, by_length[bar_mm].cents)
            for (bar_mm, made), times in _with_ends(answer.patterns, forms).items()
        ]
        cents, bars = cents + round(answer.cost or 0), bars + answer.bars_used
        proved = proved and answer.proved
    return BarsAnswer(tuple(cuts), cents, bars, proved)


def _with_ends(patterns: Sequence[Pattern], forms: Sequence[PieceType]) -> Counter[tuple[int, tuple[PieceType, ...]]]:
    """Bars with the forms cut from each, in place of bare lengths: which ends are splayed is then said bar by bar.

    Forms of one length with other ends are dealt out in order, so that most bars stay alike.
    """
    waiting: dict[int, list[PieceType]] = defaultdict(list)
    for form in sorted(forms, key=lambda each: (each.length_mm, each.splayed_ends, each.code), reverse=True):
        waiting[form.length_mm].append(form)
    alike: Counter[tuple[int, tuple[PieceType, ...]]] = Counter()
    for pattern in patterns:
        for _ in range(pattern.times):
            alike[pattern.bar_mm, tuple(waiting[length].pop(0) for length in pattern.pieces)] += 1
    return alike
