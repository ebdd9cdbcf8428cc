"""Reading the ledger: rows as the plain events that the fold takes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import QuerySet

from inventory.lifecycle.events import Event, Group, Key, upgraded
from inventory.lifecycle.fold import taken_back
from inventory.lifecycle.kinds import Fitness, GroupKind, Kind, Phase, Seen, Standing
from inventory.lifecycle.state import State
from inventory.lifecycle.world import About
from inventory.models import Event as EventRow
from inventory.models import GearType, GroupMember, Piece, Tag
from inventory.models.gear import NEVER_SET
from inventory.selectors.messages import AT_ONCE, Questions
from inventory.selectors.rows import Row, from_json, holes, moment_out, rows_of, uuid_in, uuid_out

COLUMNS = (
    "id",
    "kind",
    "happened_at",
    "device",
    "seq",
    "piece_id",
    "group_kind",
    "group_id",
    "type_id",
    "place_id",
    "docket_id",
    "seen",
    "quantity",
    "target",
    "version",
    "data",
)
STATE_COLUMNS = (
    "standing",
    "place_id",
    "docket_id",
    "pour_id",
    "phase",
    "crate_id",
    "dirty",
    "fitness",
    "uses",
    "uses_since_clean",
    "since",
    "last_happened",
    "last_device",
    "last_seq",
    "last_event",
)
KINDS, SEEN, GROUPS = {k.value: k for k in Kind}, {s.value: s for s in Seen}, {g.value: g for g in GroupKind}
STANDINGS, PHASES = {s.value: s for s in Standing}, {p.value: p for p in Phase}
GRADES = {f.value: f for f in Fitness}
_COLUMNS = ", ".join(f'e."{column}"' for column in COLUMNS)
EVENTS = f'SELECT {_COLUMNS} FROM "{EventRow._meta.db_table}" e WHERE '


def _as_events(rows: Iterable[Row]) -> Iterator[Event]:
    """Rows of COLUMNS as events, their data upgraded to what this program reads."""
    moment, uuid = moment_out(), uuid_out()
    for (
        pk,
        kind,
        happened,
        device,
        seq,
        piece,
        gkind,
        gid,
        type_,
        place,
        docket,
        seen,
        many,
        target,
        version,
        data,
    ) in rows:
        yield Event(
            uuid(pk),
            KINDS[kind],
            moment(happened),
            device,
            seq,
            piece,
            Group(GROUPS[gkind], gid) if gkind else None,
            type_,
            place,
            docket,
            SEEN[seen],
            many,
            uuid(target),
            version,
            upgraded(version, KINDS[kind], from_json(data)),
        )


def events_where(condition: str, params: Sequence[Any] = ()) -> Iterator[Event]:
    """Events by a condition in SQL, in no order: the fold sorts for itself. The table's short name is e."""
    return _as_events(rows_of(EVENTS + condition, params))


def read(rows: QuerySet[EventRow]) -> Iterator[Event]:
    """The events of a queryset, in no order."""
    query = rows.order_by().values_list(*COLUMNS).query
    try:
        sql, params = query.get_compiler(connection=connection).as_sql()
    except EmptyResultSet:
        return iter(())
    return _as_events(rows_of(sql, params))


def events_of_pieces_in_order() -> Iterator[Event]:
    """Every event about a piece, piece by piece, streamed."""
    with connection.chunked_cursor() as cursor:
        cursor.execute(EVENTS + 'e."piece_id" IS NOT NULL ORDER BY e."piece_id"')
        while rows := cursor.fetchmany(2000):
            yield from _as_events(rows)


def events_by_id(ids: Iterable[UUID]) -> dict[UUID, Event]:
    uuid, found = uuid_in(), dict[UUID, Event]()
    for some in chunked(ids):
        for event in events_where(f'e."id" IN ({holes(some)})', [uuid(pk) for pk in some]):
            found[event.id] = event
    return found


def all_presses() -> Iterator[Event]:
    """Every event about a whole pour, crate or docket."""
    return events_where('e."group_kind" <> \'\' AND e."piece_id" IS NULL')


def pieces_in_order() -> Iterator[int]:
    yield from Piece.objects.order_by("pk").values_list("pk", flat=True).iterator(chunk_size=5000)


def chunked(ids: Iterable[Any]) -> Iterator[list[Any]]:
    everything = list(ids)
    for start in range(0, len(everything), AT_ONCE):
        yield everything[start : start + AT_ONCE]


Of = dict[int, list[Event]]
REVERSED_FOR = 'e."kind" = \'reversed\' AND e."piece_id" IN ({})'
PRESSED = 'NOT (e."group_kind" = \'\') AND e."group_kind" = %s AND e."group_id" IN ({}) AND e."piece_id" IS NULL'
"""The first condition says nothing new, but without it SQLite does not see that the index event_of_a_group will do."""
LOOSE = 'e."kind" = \'reversed\' AND e."piece_id" IS NULL AND e."group_kind" = \'\' AND e."type_id" IS NULL'


def loose_reversals() -> tuple[Event, ...]:
    """Reversals that came before their target and say no more than its id: they concern whoever the target does."""
    return tuple(events_where(LOOSE))


def read_ahead(pieces: Iterable[int], groups: Iterable[Group]) -> tuple[tuple[Event, ...], Of, GroupBook]:
    """What folding these pieces on must see: the loose reversals, those for each piece, and the presses on the groups.

    One query for all of it, save for what is beyond the ids that one query takes.
    """
    some, *more = list(chunked(pieces)) or [[]]
    near, *far = list(chunked(set(groups))) or [[]]
    wanted = Wanted()
    wanted.add(LOOSE)
    wanted.add(REVERSED_FOR.format(holes(some)), some)
    by_kind: dict[GroupKind, list[int]] = defaultdict(list)
    for group in near:
        by_kind[group.kind].append(group.id)
    for kind, ids in by_kind.items():
        wanted.add(PRESSED.format(holes(ids)), ids, kind.value)
    loose, found, presses = list[Event](), defaultdict[int, list[Event]](list), list[Event]()
    events = [*wanted.read(), *(event for ids in more for event in events_where(REVERSED_FOR.format(holes(ids)), ids))]
    for event in events:
        if event.piece is not None:
            found[event.piece].append(event)
        else:
            (loose if event.group is None else presses).append(event)
    book = GroupBook(loose)
    book.put(near, presses)
    for beyond in far:
        book.fetch(beyond)
    return tuple(loose), found, book


class Wanted:
    """Conditions on events, any of which will do; one whose list is empty is left out."""

    def __init__(self) -> None:
        self.conditions, self.params = list[str](), list[Any]()

    def add(self, condition: str, ids: Sequence[int] | None = None, *before: Any) -> None:
        if ids is None or ids:
            self.conditions.append(f"({condition})")
            self.params += [*before, *(ids or ())]

    def read(self) -> Iterator[Event]:
        return events_where(" OR ".join(self.conditions), self.params)


def own_events(pieces: Iterable[int]) -> dict[int, list[Event]]:
    found: dict[int, list[Event]] = defaultdict(list)
    for ids in chunked(pieces):
        for event in events_where(f'e."piece_id" IN ({holes(ids)})', ids):
            if event.piece is not None:
                found[event.piece].append(event)
    return found


class GroupBook:
    """The presses on pours, crates and dockets, each group read once, sorted, without those reversed for all."""

    def __init__(self, loose: Iterable[Event] = ()) -> None:
        self._loose = tuple(loose)
        self._pages: dict[Group, tuple[Event, ...]] = {}
        self._complete = False

    def __call__(self, group: Group) -> Sequence[Event]:
        if self._complete:
            return self._pages.get(group, ())
        if group not in self._pages:
            self.fetch([group])
        return self._pages[group]

    def fetch(self, groups: Iterable[Group]) -> None:
        """Read many groups with one query for each kind of group."""
        wanted: dict[GroupKind, set[int]] = defaultdict(set)
        for group in groups:
            if group not in self._pages:
                wanted[group.kind].add(group.id)
        for kind, ids in wanted.items():
            for some in chunked(ids):
                there = events_where(PRESSED.format(holes(some)), [kind.value, *some])
                self.put((Group(kind, pk) for pk in some), there)

    def put_all(self, presses: Iterable[Event]) -> int:
        """Every press there is, so that no group needs to be looked up. Returns how many there were."""
        everything = list(presses)
        self.put((), everything)
        self._complete = True
        return len(everything)

    def put(self, groups: Iterable[Group], events: Iterable[Event]) -> None:
        heaps: dict[Group, list[Event]] = {group: [] for group in groups}
        for event in events:
            if event.group is not None:
                heaps.setdefault(event.group, []).append(event)
        for group, heap in heaps.items():
            gone = taken_back([*heap, *self._loose])
            stand = (e for e in heap if e.kind != Kind.REVERSED and e.id not in gone)
            self._pages[group] = tuple(sorted(stand, key=lambda e: e.key))


def members(groups: Iterable[Group]) -> dict[Group, set[int]]:
    """Pieces that a press on the group may reach, at whatever time it happened."""
    found: dict[Group, set[int]] = {group: set() for group in groups}
    for group, pieces in found.items():
        if group.kind == GroupKind.CRATE:
            pieces.add(group.id)
    kinds = {group.kind for group in found}
    for kind in kinds:
        for ids in chunked(group.id for group in found if group.kind == kind):
            rows = GroupMember.objects.filter(group_kind=kind, group_id__in=ids).order_by()
            for pk, piece in rows.values_list("group_id", "piece_id"):
                found[Group(kind, pk)].add(piece)
    return found


_STATE = ", ".join(f'p."{column}"' for column in STATE_COLUMNS)
_ABOUT = 'p."id", t."clean_after_every_pour", t."kind"'
_KNOWN = f"{_ABOUT}, {_STATE}"
_PIECES = f'"{Piece._meta.db_table}" p JOIN "{GearType._meta.db_table}" t ON t."id" = p."type_id"'
_TAGGED = f'{_PIECES} JOIN "{Tag._meta.db_table}" g ON g."piece_id" = p."id"'


def as_known(rows: Iterable[Row]) -> dict[int, tuple[About, State]]:
    """Rows of (piece, clean after every pour, kind of type, then STATE_COLUMNS) by piece."""
    moment, uuid, found = moment_out(), uuid_out(), dict[int, tuple[About, State]]()
    for (
        pk,
        cleaned,
        kind,
        standing,
        place,
        docket,
        pour,
        phase,
        crate,
        dirty,
        fitness,
        uses,
        since_clean,
        *times,
    ) in rows:
        since, happened, device, seq, last = times
        found[pk] = (
            _about(pk, cleaned, kind),
            State(
                STANDINGS[standing],
                place,
                docket,
                pour,
                PHASES[phase],
                crate,
                bool(dirty),
                GRADES[fitness],
                uses,
                since_clean,
                moment(since),
                None if happened is None else Key(moment(happened), device, seq, uuid(last)),
            ),
        )
    return found


def cached(pieces: Iterable[int]) -> dict[int, tuple[About, State]]:
    """What the fold must know of each piece, and the state as it is cached now."""
    questions = Questions()
    found = known_pieces(list(pieces), questions)
    questions.ask()
    return found()


def about_pieces(pieces: Iterable[int]) -> dict[int, About]:
    """What the fold must know of each piece, without its state."""
    found = dict[int, About]()
    for ids in chunked(pieces):
        for pk, cleaned, kind in rows_of(f'SELECT {_ABOUT} FROM {_PIECES} WHERE p."id" IN ({holes(ids)})', ids):
            found[pk] = _about(pk, cleaned, kind)
    return found


def _about(pk: int, cleaned: Any, kind: str) -> About:
    return About(pk, bool(cleaned), kind == GearType.Kind.CRATE, kind not in NEVER_SET)


def known_pieces(pieces: Collection[int], questions: Questions) -> Callable[[], dict[int, tuple[About, State]]]:
    """The same, asked together with other questions."""
    asked = questions.rows_of_all(f'SELECT {_KNOWN} FROM {_PIECES} WHERE p."id" IN ({{}})', pieces)
    return lambda: as_known(asked())


Tagged = tuple[dict[str, tuple[int, datetime | None]], dict[int, tuple[About, State]]]


def tagged(codes: Collection[str], questions: Questions) -> Callable[[], Tagged]:
    """For each code the piece it is on and from when, and all of those pieces as `cached` gives them."""
    sql = f'SELECT g."code", g."fixed_at", {_KNOWN} FROM {_TAGGED} WHERE g."code" IN ({{}})'
    asked = questions.rows_of_all(sql, codes)

    def read() -> Tagged:
        rows, moment = asked(), moment_out()
        return {code: (pk, moment(fixed)) for code, fixed, pk, *_ in rows}, as_known(row[2:] for row in rows)

    return read
