"""The summaries behind the figures, brought up to date: which pieces new events reach, and their lives told anew.

A batch gets its number inside the ledger's one-writer lock, so batches are numbered in the order they were stored and
"every batch up to this one" is a mark that nothing can slip under later.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from inventory.figures.life import LIFE_ENDED, Life, Month, life_of
from inventory.lifecycle.events import Event, Group
from inventory.lifecycle.kinds import GroupKind, Kind
from inventory.lifecycle.world import Places
from inventory.models import (
    Batch,
    FiguresMark,
    GroupMember,
    Lot,
    LotMonth,
    PieceDirty,
    PieceLife,
    PieceMonth,
    PieceRun,
    PieceStay,
    Place,
    Submission,
)
from inventory.models import Event as EventRow
from inventory.selectors.ledger import GroupBook, all_presses, cached, chunked, loose_reversals, own_events, read
from inventory.selectors.lives import stored_lives
from inventory.services.lots import Shares, add_shares, days_here, lots_of, put, strays
from inventory.services.projecting import touched_by
from inventory.services.recording import one_writer_at_a_time

AT_HAND = 5_000
"""So many new reports are taken in while a page waits; more are left to the worker or the command."""
SOME = 2_000


@dataclass(frozen=True, slots=True)
class Standing:
    """How far the figures reach: everything recorded up to `as_of`; `behind` reports are not in them yet."""

    as_of: datetime | None
    behind: int


def bring_up_to_date(*, now: datetime | None = None, most: int = AT_HAND) -> Standing:
    """Take in what was recorded since the last time, unless it is more than `most` reports."""
    now = now or timezone.now()
    mark = FiguresMark.objects.filter(pk=1).first()
    since, newest = mark.batch if mark else 0, _newest()
    behind = Submission.objects.filter(batch__gt=since, batch__lte=newest)[: most + 1].count() if newest > since else 0
    astray = strays(most + 1) if since else []
    if behind + len(astray) > most:
        return Standing(mark.as_of if mark else None, behind + len(astray))
    if newest > since or astray:
        with transaction.atomic():
            one_writer_at_a_time()
            mark = FiguresMark.objects.select_for_update().get_or_create(pk=1)[0]
            newest = _newest()
            for some in chunked(sorted({*_reached(mark.batch, newest), *strays(most)})):
                _sum(some)
            mark.batch, mark.as_of = newest, now
            mark.save()
    return Standing(now, 0)


def sum_everything(*, now: datetime | None = None) -> int:
    """Forget the summaries and make them from the whole ledger. How many pieces there are.

    Step by step, each a transaction of its own, so that nobody's scans wait for all of it. What is recorded meanwhile
    is beyond the mark, and taken in the next time.
    """
    now = now or timezone.now()
    with transaction.atomic():
        one_writer_at_a_time()
        _forget()
        newest = _newest()
        book = GroupBook(loose_reversals())
        book.put_all(all_presses())
    pieces = sorted(set(EventRow.objects.order_by().values_list("piece", flat=True).distinct()) - {None})
    for start in range(0, len(pieces), SOME):
        with transaction.atomic():
            one_writer_at_a_time()
            _sum(pieces[start : start + SOME], book=book)
    with transaction.atomic():
        one_writer_at_a_time()
        mark = FiguresMark.objects.select_for_update().get_or_create(pk=1)[0]
        mark.batch, mark.as_of = max(mark.batch, newest), now
        mark.save()
    return len(pieces)


def _forget() -> None:
    for model in (FiguresMark, LotMonth, PieceStay, PieceMonth, PieceRun, PieceDirty, PieceLife, Lot):
        model.objects.all().delete()


def _newest() -> int:
    return Batch.objects.order_by("-pk").values_list("pk", flat=True).first() or 0


def _reached(after: int, upto: int) -> list[int]:
    """The pieces that reports of these batches reach, by themselves or through a group."""
    ids = list(
        Submission.objects.filter(batch__gt=after, batch__lte=upto)
        .order_by()
        .values_list("event_id", flat=True)
        .distinct()
    )
    events = [event for some in chunked(ids) for event in read(EventRow.objects.filter(pk__in=some))]
    return sorted(touched_by([*events, *_targets(events)]))


def _targets(events: Iterable[Event]) -> list[Event]:
    """What a reversal takes back, where it says no more than its id."""
    wanted: list[UUID] = [
        e.target for e in events if e.kind == Kind.REVERSED and e.target and e.piece is None and e.group is None
    ]
    return [event for some in chunked(wanted) for event in read(EventRow.objects.filter(pk__in=some))]


def lives(pieces: Sequence[int], *, book: GroupBook | None = None, places: Places | None = None) -> dict[int, Life]:
    """The lives of these pieces, told from the ledger."""
    loose, places = loose_reversals(), places or Place.objects.as_world()
    if book is None:
        book = GroupBook(loose)
        book.fetch(_groups(pieces))
    own, found, day = own_events(pieces), dict[int, Life](), days_here()
    for pk, (about, _) in cached(pieces).items():
        found[pk] = _without_empty_months(life_of([*own.get(pk, []), *loose], book, places, about, day))
    return found


def _without_empty_months(life: Life) -> Life:
    life.months = {key: month for key, month in life.months.items() if month != Month()}
    return life


def _groups(pieces: Sequence[int]) -> list[Group]:
    rows = GroupMember.objects.filter(piece__in=pieces).order_by().values_list("group_kind", "group_id").distinct()
    groups = [Group(GroupKind(kind), pk) for kind, pk in rows]
    return [*groups, *(Group(GroupKind.CRATE, pk) for pk in pieces)]


def _ordinal(day: date | None) -> int | None:
    return None if day is None else day.toordinal()


def _sum(pieces: Sequence[int], *, book: GroupBook | None = None) -> None:
    """The only writer of the summaries."""
    found, had = lives(pieces, book=book), stored_lives(pieces)
    lots, shares, day = lots_of(found), Shares(), days_here()
    in_lots = dict(PieceLife.objects.filter(piece__in=had, lot__isnull=False).values_list("pk", "lot"))
    for pk, lot in in_lots.items():
        add_shares(shares, lot, had[pk], day, -1)
    for pk, life in found.items():
        add_shares(shares, lots[pk], life, day)
    PieceLife.objects.filter(piece__in=list(had)).delete()
    PieceLife.objects.bulk_create([_life(pk, lots[pk], life) for pk, life in found.items()], batch_size=1000)
    put(shares)
    moved = {pk for pk in had if in_lots.get(pk) != lots.get(pk)}
    for model, part, told in PARTS:
        changed = {pk for pk, life in found.items() if pk not in had or pk in moved or part(life) != part(had[pk])}
        model.objects.filter(piece__in=[pk for pk in changed if pk in had]).delete()
        rows = [row for pk in found if pk in changed for row in told(pk, lots[pk], found[pk])]
        model.objects.bulk_create(rows, batch_size=2000)


def _life(pk: int, lot: int, life: Life) -> PieceLife:
    return PieceLife(
        piece_id=pk,
        lot_id=lot,
        entry_uses=life.entry_uses,
        uses=life.uses,
        on_books=_ordinal(life.on_books),
        off_books=_ordinal(life.off_books),
        ended=life.ended,
        proceeds=life.proceeds,
        inspected_at=life.inspected_at,
        uses_since_inspected=life.uses_since_inspected,
        dirty_since=life.dirty_since,
        unfit_since=life.unfit_since,
        site_id=life.site,
    )


def _stays(pk: int, _lot: int, life: Life) -> list[PieceStay]:
    return [
        PieceStay(piece_id=pk, place_id=stay.place, since=stay.since.toordinal(), until=_ordinal(stay.until))
        for stay in life.stays
    ]


def _runs(pk: int, lot: int, life: Life) -> list[PieceRun]:
    last = len(life.runs) - 1
    return [
        PieceRun(
            piece_id=pk,
            lot_id=lot,
            place_id=run.place,
            entry=run.entry,
            exit=run.exit,
            ended=at == last and life.ended in LIFE_ENDED,
        )
        for at, run in enumerate(life.runs)
    ]


def _dirt(pk: int, _lot: int, life: Life) -> list[PieceDirty]:
    return [PieceDirty(piece_id=pk, place_id=each.place, since=each.since, until=each.until) for each in life.dirt]


def _months(pk: int, lot: int, life: Life) -> list[PieceMonth]:
    found = []
    for key, month in life.months.items():
        numbers: dict[str, Any] = {name: getattr(month, name) for name in month.__slots__}
        found.append(PieceMonth(piece_id=pk, lot_id=lot, place_id=key.place, month=key.month, **numbers))
    return found


PARTS: tuple[tuple[Any, Callable[[Life], object], Callable[[int, int, Life], list[Any]]], ...] = (
    (PieceStay, lambda life: life.stays, _stays),
    (PieceMonth, lambda life: life.months, _months),
    (PieceRun, lambda life: (life.runs, life.ended in LIFE_ENDED), _runs),
    (PieceDirty, lambda life: life.dirt, _dirt),
)
"""What is kept of a life beside its numbers: written anew only where it has changed."""
