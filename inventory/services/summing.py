"""The summaries behind the figures, brought up to date: which pieces new events reach, and their lives told anew.

A batch gets its number inside the ledger's one-writer lock, so batches are numbered in the order they were stored and
"every batch up to this one" is a mark that nothing can slip under later.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from inventory.figures.life import Halt, Life, LifeWalk, walked
from inventory.lifecycle.events import Event, Group
from inventory.lifecycle.kinds import GroupKind, Kind
from inventory.lifecycle.world import Places
from inventory.models import (
    Batch,
    CastSet,
    FiguresMark,
    GroupMember,
    Lot,
    LotMonth,
    PieceLife,
    PieceRun,
    Place,
    SpanCount,
    Submission,
)
from inventory.models import Event as EventRow
from inventory.selectors.ledger import (
    GroupBook,
    about_pieces,
    all_presses,
    chunked,
    events_by_id,
    loose_reversals,
    own_events,
)
from inventory.selectors.lives import NUMBERS, Kept, kept_of, told
from inventory.selectors.rows import moment_in
from inventory.services.lots import InLot, Shares, days_here, facts_of, lots_of, put, strays
from inventory.services.membership import Membership
from inventory.services.projecting import goes_on, refold, touched_by
from inventory.services.recording import one_writer_at_a_time
from inventory.services.span_counts import Spans
from inventory.services.storing import change, store

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
            _take_in(_reached(mark.batch, newest), strays(most))
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
            some = walks(pieces[start : start + SOME], book=book)
            _keep(some, kept_of(some))
    with transaction.atomic():
        one_writer_at_a_time()
        mark = FiguresMark.objects.select_for_update().get_or_create(pk=1)[0]
        mark.batch, mark.as_of = max(mark.batch, newest), now
        mark.save()
    return len(pieces)


def _forget() -> None:
    for model in (FiguresMark, LotMonth, CastSet, SpanCount, PieceRun, PieceLife, Lot):
        model.objects.all().delete()


def _newest() -> int:
    return Batch.objects.order_by("-pk").values_list("pk", flat=True).first() or 0


def _reached(after: int, upto: int) -> dict[int, list[Event]]:
    """The pieces that reports of these batches reach, by themselves or through a group, each with what reached it."""
    ids = Submission.objects.filter(batch__gt=after, batch__lte=upto).order_by().values_list("event_id", flat=True)
    events = list(events_by_id(dict.fromkeys(ids)).values())
    return touched_by([*events, *_targets(events)])


def _targets(events: Iterable[Event]) -> list[Event]:
    """What a reversal takes back, where it says no more than its id; and if that is such a reversal, its target too."""
    known, found = set[UUID](), list[Event]()
    while wanted := {e.target for e in events if e.kind == Kind.REVERSED and e.target and not (e.piece or e.group)}:
        events = events_by_id(wanted - known).values()
        found += events
        known |= wanted
    return found


def _take_in(touched: Mapping[int, list[Event]], astray: Iterable[int]) -> None:
    """Walk on the lives that new events only add to, walk the others anew, and find their lots anew where asked."""
    for some in chunked(sorted({*touched, *astray})):
        had = kept_of(some)
        onward = {
            pk: touched[pk] for pk in some if pk in had and pk in touched and goes_on(had[pk].halt.state, touched[pk])
        }
        new = {pk: (had[pk].life, had[pk].halt) for pk in some if pk in had and pk not in touched}
        new |= _walked_on(onward, had)
        new |= walks([pk for pk in some if pk not in new])
        _keep(new, had, {*astray})


Walks = dict[int, tuple[Life, Halt]]


def _walked_on(touched: dict[int, list[Event]], had: Mapping[int, Kept]) -> Walks:
    """The lives of pieces whose events are all newer than where their walk stopped."""
    places, day = Place.objects.as_world(), days_here()
    known = {pk: (about, had[pk].halt.state) for pk, about in about_pieces(touched).items()}
    walking = {pk: LifeWalk.onward(had[pk].life, had[pk].halt, day, places, about) for pk, (about, _) in known.items()}
    done = refold({pk: touched[pk] for pk in known}, places, known, walking)
    return {each.about.piece: walking[each.about.piece].at(each.folded.state) for each in done}


def walks(pieces: Sequence[int], *, book: GroupBook | None = None, places: Places | None = None) -> Walks:
    """The lives of these pieces and where their walks stopped, told from the ledger."""
    if not pieces:
        return {}
    loose, places = loose_reversals(), places or Place.objects.as_world()
    if book is None:
        book = GroupBook(loose)
        book.fetch(_groups(pieces))
    own, day = own_events(pieces), days_here()
    return {
        pk: walked([*own.get(pk, []), *loose], book, places, about, day) for pk, about in about_pieces(pieces).items()
    }


def lives(pieces: Sequence[int]) -> dict[int, Life]:
    """The lives of these pieces, told from the ledger."""
    return {pk: life for pk, (life, _) in walks(pieces).items()}


def _groups(pieces: Sequence[int]) -> list[Group]:
    rows = GroupMember.objects.filter(piece__in=pieces).order_by().values_list("group_kind", "group_id").distinct()
    groups = [Group(GroupKind(kind), pk) for kind, pk in rows]
    return [*groups, *(Group(GroupKind.CRATE, pk) for pk in pieces)]


def _keep(new: Walks, had: Mapping[int, Kept], astray: Collection[int] = ()) -> None:
    """The only writer of the summaries. `astray` are pieces that may belong in another lot than before."""
    lots = _lots(new, had, astray)
    before = {pk: InLot(had[pk].lot, had[pk].life) for pk in new if pk in had}
    shares, members = Shares(), Membership()
    spans = Spans(facts_of([*lots.values(), *(one.lot for one in before.values())]))
    for pk, (life, _) in new.items():
        now, was = InLot(lots[pk], life), before.get(pk)
        shares.put(now, was)
        spans.put(now, was)
        members.put(pk, now, was)
    put(shares)
    spans.write()
    members.write()
    _write_lives(new, had, lots, astray)
    _write_runs(new, had)


def _lots(new: Walks, had: Mapping[int, Kept], astray: Collection[int]) -> dict[int, int]:
    """The lot of each; only where it can have changed is it looked for."""
    lots = {
        pk: had[pk].lot
        for pk, (life, _) in new.items()
        if pk in had and pk not in astray and life.on_books == had[pk].life.on_books
    }
    return lots | lots_of({pk: life for pk, (life, _) in new.items() if pk not in lots})


def _write_lives(new: Walks, had: Mapping[int, Kept], lots: Mapping[int, int], astray: Collection[int]) -> None:
    """Only what has changed is set; pieces whose same columns changed share one statement."""
    alike: dict[tuple[str, ...], list[tuple[Any, ...]]] = defaultdict(list)
    fresh, moment = list[tuple[Any, ...]](), moment_in()
    for pk, (life, halt) in new.items():
        row = {"lot_id": lots[pk], "entered_anew": False, "told": told(life, halt)}
        row |= {name: getattr(life, name) for name in NUMBERS}
        if (old := had.get(pk)) is not None:
            before = {"lot_id": old.lot, "entered_anew": pk in astray, "told": old.text}
            before |= {name: getattr(old.life, name) for name in NUMBERS}
            row = {name: value for name, value in row.items() if value != before[name]}
        values = (*(_as_stored(value, moment) for value in row.values()), pk)
        if old is None:
            fresh.append(values)
        elif row:
            alike[tuple(row)].append(values)
    store(PieceLife, tuple(_column(name) for name in ("lot_id", "entered_anew", "told", *NUMBERS, "piece_id")), fresh)
    for names, rows in alike.items():
        change(PieceLife, tuple(_column(name) for name in names), rows)


def _as_stored(value: Any, moment: Callable[[Any], Any]) -> Any:
    if isinstance(value, datetime):
        return moment(value)
    return value.toordinal() if isinstance(value, date) else value


def _column(name: str) -> str:
    return "site_id" if name == "site" else name


def _write_runs(new: Walks, had: Mapping[int, Kept]) -> None:
    changed = [pk for pk, (life, _) in new.items() if life.runs != (had[pk].life.runs if pk in had else [])]
    for some in chunked(pk for pk in changed if pk in had):
        PieceRun.objects.filter(piece__in=some).delete()
    store(
        PieceRun,
        ("piece_id", "place_id", "entry", "exit"),
        [(pk, run.place, run.entry, run.exit) for pk in changed for run in new[pk][0].runs],
    )
