"""Fold the whole ledger again, beside the cached state, and say where they differ.

Pieces are read in order of their id, each with all its events, so that a ledger of any length passes through in
little memory. Presses on groups are few beside scans, so they are all kept at hand.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from itertools import groupby
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory.lifecycle.events import Event
from inventory.lifecycle.fold import fold
from inventory.lifecycle.state import State
from inventory.lifecycle.world import Places
from inventory.models import CountedStock, GearType, GroupMember, Place, ReviewItem
from inventory.models import Event as EventRow
from inventory.selectors.ledger import (
    AT_ONCE,
    GroupBook,
    all_presses,
    cached,
    events_of_pieces_in_order,
    loose_reversals,
    pieces_in_order,
)
from inventory.services.counting import goods_of, stored_of, write_quantities
from inventory.services.projecting import Refolded, review, write_members, write_states
from inventory.services.recording import one_writer_at_a_time


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One thing the cache says and the ledger does not."""

    about: str
    what: str
    cache: Any
    ledger: Any

    def __str__(self) -> str:
        return f"{self.about}: {self.what} is {self.cache!s} in the cache and {self.ledger!s} by the ledger"


@dataclass
class Replay:
    """What was folded again, and every disagreement found."""

    events: int = 0
    pieces: int = 0
    types: int = 0
    found: list[Disagreement] = field(default_factory=list)


def replay(*, mend: bool = False) -> Replay:
    """Fold everything again. With `mend` the cache is rewritten where it differs; the ledger never is."""
    with transaction.atomic():
        one_writer_at_a_time()
        outcome, places, loose = Replay(), Place.objects.as_world(), loose_reversals()
        book = GroupBook(loose)
        outcome.events += book.put_all(all_presses())
        for some in _batches():
            _pieces(some, outcome, places, book, loose, mend)
        _counted(outcome, places, loose, mend)
    return outcome


def _batches() -> Iterator[dict[int, list[Event]]]:
    """Pieces, some thousands at a time, each with all its own events; pieces without events included."""
    own = groupby(events_of_pieces_in_order(), key=lambda e: e.piece)
    events = next(own, None)
    batch: dict[int, list[Event]] = {}
    for pk in pieces_in_order():
        batch[pk] = []
        if events is not None and events[0] == pk:
            batch[pk] = list(events[1])
            events = next(own, None)
        if len(batch) == AT_ONCE:
            yield batch
            batch = {}
    yield batch


def _pieces(
    batch: dict[int, list[Event]],
    outcome: Replay,
    places: Places,
    book: GroupBook,
    loose: tuple[Event, ...],
    mend: bool,
) -> None:
    done = []
    for pk, (about, state) in cached(batch).items():
        outcome.pieces += 1
        outcome.events += len(batch[pk])
        done.append(Refolded(about, state, True, fold([*batch[pk], *loose], book, places, about)))
    outcome.found += [d for each in done for d in _differences(each)]
    outcome.found += _unlisted(done) + _unraised(done)
    if mend:
        write_states(done)
        write_members(done)
        review(done, timezone.now())


def _differences(each: Refolded) -> list[Disagreement]:
    if each.before == each.folded.state:
        return []
    pairs = ((f.name, getattr(each.before, f.name), getattr(each.folded.state, f.name)) for f in fields(State))
    return [Disagreement(f"piece {each.about.piece}", name, old, new) for name, old, new in pairs if old != new]


def _unlisted(done: list[Refolded]) -> list[Disagreement]:
    """Groups a piece was in and is not listed for: a late press on them would miss it."""
    ids = [each.about.piece for each in done]
    listed = set(GroupMember.objects.filter(piece__in=ids).values_list("piece_id", "group_kind", "group_id"))
    return [
        Disagreement(f"piece {each.about.piece}", f"its being in {group.kind} {group.id}", "not listed", "so")
        for each in done
        for group in each.folded.groups
        if (each.about.piece, group.kind.value, group.id) not in listed
    ]


def _unraised(done: list[Refolded]) -> list[Disagreement]:
    """Contradictions the fold finds and that were never put up for review."""
    ids = [each.about.piece for each in done if each.folded.findings]
    raised = set(ReviewItem.objects.filter(piece__in=ids).values_list("event_id", "piece_id", "code"))
    return [
        Disagreement(f"piece {each.about.piece}", f"{finding.code} at event {finding.event}", "not raised", "found")
        for each in done
        for finding in each.folded.findings
        if (finding.event, each.about.piece, finding.code) not in raised
    ]


def _counted(outcome: Replay, places: Places, loose: tuple[Event, ...], mend: bool) -> None:
    types = set(EventRow.objects.filter(type__isnull=False).order_by().values_list("type_id", flat=True).distinct())
    types |= set(CountedStock.objects.order_by().values_list("type_id", flat=True).distinct())
    outcome.events += len(loose) + EventRow.objects.filter(type__isnull=False).count()
    names = dict(GearType.objects.filter(pk__in=types).values_list("pk", "code"))
    for type_id in sorted(types):
        goods, stored = goods_of(type_id, places, loose), stored_of(type_id)
        standing = goods.standing()
        outcome.types += 1
        for spot in sorted(stored.keys() | standing.keys(), key=str):
            if stored.get(spot, 0) != standing.get(spot, 0):
                where = f"place {spot.place}" if spot.place is not None else f"docket {spot.docket}"
                what = f"the {spot.condition.value} quantity at {where}"
                outcome.found.append(Disagreement(names[type_id], what, stored.get(spot, 0), standing.get(spot, 0)))
        if mend:
            write_quantities(type_id, goods)
