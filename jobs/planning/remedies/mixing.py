"""The best of several remedies at once: clean these, ask those back, cut some down, cut others from mill bars, buy the
rest, and where even all that there is would not do today, start as few working days later as it takes.

Everything that can be had is offered together, so that the cheapest list is found of all that mix it. Money comes
first; of lists that cost the same, the one that touches the fewest pieces: a piece cleaned or asked back counts as
the hundredth part of a unit of money, one mended or cut down as a few.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from jobs.planning.limits import Limits
from jobs.planning.remedies.buy import Purchase, Source, offers_to_buy, purchases
from jobs.planning.remedies.chase import AskBack, Held, ask_back, offers_to_chase, useful
from jobs.planning.remedies.clean_first import Waiting, WantedPiece, alike, dated, pieces_taken
from jobs.planning.remedies.cut_down import Recut, Surplus, offers_to_cut, recuts, ways_to_cut
from jobs.planning.remedies.extras import Taken
from jobs.planning.remedies.mill_ways import bars_taken, offers_from_mill, pools_of, ways_from_mill
from jobs.planning.remedies.new_bars import BarCut, MillLength
from jobs.planning.remedies.offers import Offer
from jobs.planning.remedies.shortage import Shortage
from jobs.planning.remedies.timeline import Timeline
from jobs.planning.request import Run

CLEANED, MENDED, CUT = 1, 2, 5


@dataclass(frozen=True)
class Means:
    """Everything that can be had beyond the stock on hand."""

    waiting: Sequence[Waiting] = ()
    held: Sequence[Held] = ()
    sources: Sequence[Source] = ()
    surplus: Sequence[Surplus] = ()
    mill: Sequence[MillLength] = ()
    kerf_mm: int = 0


@dataclass(frozen=True)
class Mixed:
    """What to do of each kind, and by how many working days the job starts later; `days` None where no start looked
    at (up to `looked` later) is covered even with everything. `start` is the first day that gear is set. `into`: bars
    were cut into no more forms each, None that all ways to cut them were looked at."""

    days: int | None
    looked: int
    found: Taken
    clean: tuple[WantedPiece, ...] = ()
    back: tuple[AskBack, ...] = ()
    bought: tuple[Purchase, ...] = ()
    cuts: tuple[Recut, ...] = ()
    bars: tuple[BarCut, ...] = ()
    start: date | None = None
    into: int | None = None

    @property
    def kinds(self) -> int:
        """How many different things it takes."""
        return sum(map(bool, (self.days, self.clean, self.back, self.bought, self.cuts, self.bars)))

    @property
    def cents(self) -> int:
        """What is bought or hired in, and the bars, come to."""
        return sum(line.cents * line.count for line in self.bought) + sum(bar.cents * bar.times for bar in self.bars)


def mix(shortage: Shortage, timeline: Timeline, means: Means, longest: int, limits: Limits) -> Mixed:
    """The cheapest mix that turns the answer; where there is none, that of the earliest start that has one."""
    found = _mixed(shortage, means, 0, limits.within(0.6))
    if found.found.turns:
        return found
    proved = found.found.proved
    movable = [pour.name for pour in timeline.pours if not pour.fixed]
    for days in range(1, longest + 1 if movable else 1):
        if limits.over():
            return Mixed(None, days - 1, Taken(False, False, {}, 0, 0, without=found.found.without))
        shifts = dict.fromkeys(movable, days)
        limits.tell(days / longest, f"Looking at everything together, {days} working days later")
        moved = timeline.moved(shifts)
        later = _mixed(
            Shortage(timeline.with_owed(moved), timeline.articles, timeline.spans(shifts), timeline.counting),
            means,
            days,
            limits.within(0.5),
            moved.runs,
        )
        if later.found.turns:
            return later if proved else _unproved(later)
        proved = proved and later.found.proved
    return Mixed(None, longest, Taken(False, proved, {}, 0, 0, without=found.found.without))


def _unproved(mixed: Mixed) -> Mixed:
    found = mixed.found
    return replace(mixed, found=Taken(True, False, found.taken, found.price, 0, found.runs))


def _mixed(shortage: Shortage, means: Means, days: int, limits: Limits, runs: Sequence[Run] = ()) -> Mixed:
    groups, held = alike(means.waiting), useful(means.held)
    sources = [source.put_off(days) for source in means.sources]
    ways = ways_to_cut(shortage, means.surplus, means.kerf_mm)
    bars = ways_from_mill(shortage, means.mill, means.kerf_mm)
    offers: list[Offer] = [
        *(group.offer(MENDED if group.need == "mend" else CLEANED) for group in groups),
        *offers_to_chase(held, lambda each: CLEANED + (each.until is not None)),
        *offers_to_buy(shortage, sources),
        *offers_to_cut(shortage, ways, lambda way: CUT),
        *offers_from_mill(shortage, bars),
    ]
    pools = {**{lot.code: lot.count for lot in means.surplus}, **pools_of(means.mill)}
    found = shortage.least_price(offers, limits, pools)
    if not found.turns:
        return Mixed(None, days, found)
    return Mixed(
        days,
        days,
        found,
        tuple(dated(shortage, found, pieces_taken(groups, found))),
        ask_back(shortage, found, held),
        purchases(shortage, found, sources),
        recuts(shortage, found, ways),
        bars_taken(found, bars),
        min((run.start for run in runs), default=None),
        bars.into,
    )
