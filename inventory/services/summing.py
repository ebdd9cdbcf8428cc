"""The summaries behind the figures, brought up to date: which pieces new events reach, and their lives told anew.

A batch gets its number inside the ledger's one-writer lock, so batches are numbered in the order they were stored and
"every batch up to this one" is a mark that nothing can slip under later.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from inventory.figures.life import Life, Month, MonthKey, Stay, life_of
from inventory.lifecycle.events import Event, Group
from inventory.lifecycle.fold import fold
from inventory.lifecycle.kinds import GroupKind, Kind
from inventory.lifecycle.world import Places
from inventory.models import Batch, FiguresMark, GroupMember, PieceLife, PieceMonth, PieceStay, Place, Submission
from inventory.models import Event as EventRow
from inventory.selectors.ledger import GroupBook, all_presses, cached, chunked, loose_reversals, own_events, read
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
    since = mark.batch if mark else 0
    newest = Batch.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    if newest <= since:
        return Standing(now, 0)
    behind = Submission.objects.filter(batch__gt=since, batch__lte=newest)[: most + 1].count()
    if behind > most:
        return Standing(mark.as_of if mark else None, behind)
    with transaction.atomic():
        one_writer_at_a_time()
        mark = FiguresMark.objects.select_for_update().get_or_create(pk=1)[0]
        newest = Batch.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
        for some in chunked(_reached(mark.batch, newest)):
            _sum(some)
        mark.batch, mark.as_of = newest, now
        mark.save()
    return Standing(now, 0)


def sum_everything(*, now: datetime | None = None) -> int:
    """Forget the summaries and make them from the whole ledger. How many pieces there are."""
    now = now or timezone.now()
    with transaction.atomic():
        one_writer_at_a_time()
        for model in (PieceStay, PieceMonth, PieceLife):
            model.objects.all().delete()
        newest = Batch.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
        loose = loose_reversals()
        book = GroupBook(loose)
        book.put_all(all_presses())
        pieces = sorted(set(EventRow.objects.order_by().values_list("piece", flat=True).distinct()) - {None})
        for start in range(0, len(pieces), SOME):
            _sum(pieces[start : start + SOME], book=book, fresh=True)
        FiguresMark.objects.update_or_create(pk=1, defaults={"batch": newest, "as_of": now})
    return len(pieces)


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
    own, found = own_events(pieces), {}
    for pk, (about, _) in cached(pieces).items():
        folded = fold([*own.get(pk, []), *loose], book, places, about)
        found[pk] = _without_empty_months(life_of(folded.applied, places, about, _day))
    return found


def _without_empty_months(life: Life) -> Life:
    life.months = {key: month for key, month in life.months.items() if month != Month()}
    return life


def _groups(pieces: Sequence[int]) -> list[Group]:
    rows = GroupMember.objects.filter(piece__in=pieces).order_by().values_list("group_kind", "group_id").distinct()
    groups = [Group(GroupKind(kind), pk) for kind, pk in rows]
    return [*groups, *(Group(GroupKind.CRATE, pk) for pk in pieces)]


def _day(when: datetime) -> date:
    return timezone.localtime(when).date()


def _ordinal(day: date | None) -> int | None:
    return None if day is None else day.toordinal()


def _date(ordinal: int | None) -> date | None:
    return None if ordinal is None else date.fromordinal(ordinal)


def _sum(pieces: Sequence[int], *, book: GroupBook | None = None, fresh: bool = False) -> None:
    """The only writer of the summaries."""
    found = lives(pieces, book=book)
    if not fresh:
        for model in (PieceStay, PieceMonth, PieceLife):
            model.objects.filter(piece__in=pieces).delete()
    PieceLife.objects.bulk_create([_life(pk, life) for pk, life in found.items()], batch_size=1000)
    PieceStay.objects.bulk_create(
        [
            PieceStay(piece_id=pk, place_id=stay.place, since=stay.since.toordinal(), until=_ordinal(stay.until))
            for pk, life in found.items()
            for stay in life.stays
        ],
        batch_size=2000,
    )
    PieceMonth.objects.bulk_create([row for pk, life in found.items() for row in _months(pk, life)], batch_size=2000)


def _life(pk: int, life: Life) -> PieceLife:
    return PieceLife(
        piece_id=pk,
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


def _months(pk: int, life: Life) -> list[PieceMonth]:
    said: list[tuple[Any, dict[str, int]]] = [
        (key, {name: getattr(month, name) for name in month.__slots__}) for key, month in life.months.items()
    ]
    return [PieceMonth(piece_id=pk, place_id=key.place, month=key.month, **numbers) for key, numbers in said]


def differences() -> list[int]:
    """Pieces whose stored summary is not what the ledger says; both as of the mark. For a quiet moment."""
    bring_up_to_date(most=10**9)
    wrong = []
    for ids in chunked(sorted(set(EventRow.objects.order_by().values_list("piece", flat=True).distinct()) - {None})):
        told = lives(ids)
        stored = stored_lives(ids)
        wrong += [pk for pk in ids if told.get(pk) != stored.get(pk)]
    return wrong


def stored_lives(pieces: Sequence[int]) -> dict[int, Life]:
    """The lives as they are stored, as the same plain values."""
    found = {}
    for row in PieceLife.objects.filter(piece__in=pieces):
        found[row.piece_id] = Life(
            row.entry_uses,
            row.uses,
            _date(row.on_books),
            _date(row.off_books),
            row.ended,
            row.proceeds,
            row.inspected_at,
            row.uses_since_inspected,
            row.dirty_since,
            row.unfit_since,
            row.site_id,
        )
    for stay in PieceStay.objects.filter(piece__in=pieces).order_by("pk"):
        found[stay.piece_id].stays.append(Stay(stay.place_id, date.fromordinal(stay.since), _date(stay.until)))
    for month in PieceMonth.objects.filter(piece__in=pieces).order_by("pk"):
        found[month.piece_id].months[MonthKey(month.month, month.place_id)] = Month(
            month.casts, month.damaged, month.unfit, month.lost, month.cleans, month.uncleaned
        )
    return found
