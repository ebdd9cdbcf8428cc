"""Reading the ledger: rows as the plain events that the fold takes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from django.db.models import QuerySet

from inventory.lifecycle.events import Event, Group, Key, upgraded
from inventory.lifecycle.fold import taken_back
from inventory.lifecycle.kinds import Fitness, GroupKind, Kind, Phase, Seen, Standing
from inventory.lifecycle.state import State
from inventory.lifecycle.world import About
from inventory.models import Event as EventRow
from inventory.models import GearType, GroupMember, Piece

AT_ONCE = 5000
"""Ids in one query; SQLite takes 32,766 parameters."""

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


def as_event(row: Sequence[Any]) -> Event:
    """One row of COLUMNS as an event, its data upgraded to what this program reads."""
    (pk, kind, happened, device, seq, piece, gkind, gid) = row[:8]
    (type_, place, docket, seen, quantity, target, version, data) = row[8:]
    group = Group(GROUPS[gkind], gid) if gkind else None
    return Event(
        pk,
        KINDS[kind],
        happened,
        device,
        seq,
        piece,
        group,
        type_,
        place,
        docket,
        SEEN[seen],
        quantity,
        target,
        version,
        upgraded(version, data),
    )


def read(rows: QuerySet[EventRow], order: Sequence[str] = ()) -> Iterator[Event]:
    """Rows as events, streamed; in no order unless one is asked for, since the fold sorts for itself."""
    for row in rows.values_list(*COLUMNS).order_by(*order).iterator(chunk_size=5000):
        yield as_event(row)


def all_presses() -> Iterator[Event]:
    """Every event about a whole pour, crate or docket."""
    return read(EventRow.objects.exclude(group_kind="").filter(piece=None))


def pieces_in_order() -> Iterator[int]:
    yield from Piece.objects.order_by("pk").values_list("pk", flat=True).iterator(chunk_size=5000)


def chunked(ids: Iterable[Any]) -> Iterator[list[Any]]:
    everything = list(ids)
    for start in range(0, len(everything), AT_ONCE):
        yield everything[start : start + AT_ONCE]


def loose_reversals() -> tuple[Event, ...]:
    """Reversals that came before their target and say no more than its id: they concern whoever the target does."""
    return tuple(read(EventRow.objects.filter(kind=Kind.REVERSED, piece=None, group_kind="", type=None)))


def own_events(pieces: Iterable[int], *, only_reversals: bool = False) -> dict[int, list[Event]]:
    found: dict[int, list[Event]] = defaultdict(list)
    for ids in chunked(pieces):
        rows = EventRow.objects.filter(piece__in=ids)
        for event in read(rows.filter(kind=Kind.REVERSED) if only_reversals else rows):
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
                rows = EventRow.objects.filter(group_kind=kind, group_id__in=some, piece=None)
                self.put((Group(kind, pk) for pk in some), read(rows))

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
        rows = GroupMember.objects.filter(group_kind=group.kind, group_id=group.id)
        pieces.update(rows.values_list("piece_id", flat=True))
    return found


def as_state(row: Sequence[Any]) -> State:
    """The cached state of a piece, from STATE_COLUMNS."""
    standing, place, docket, pour, phase, crate, dirty, fitness, uses, since_clean, since, *last = row
    key = Key(*last) if last[0] is not None else None
    return State(
        Standing(standing),
        place,
        docket,
        pour,
        Phase(phase),
        crate,
        dirty,
        Fitness(fitness),
        uses,
        since_clean,
        since,
        key,
    )


def cached(pieces: Iterable[int]) -> dict[int, tuple[About, State]]:
    """What the fold must know of each piece, and the state as it is cached now."""
    found = {}
    for ids in chunked(pieces):
        rows = Piece.objects.filter(pk__in=ids).order_by()
        for row in rows.values_list("pk", "type__clean_after_every_pour", "type__kind", *STATE_COLUMNS):
            about = About(row[0], row[1], row[2] == GearType.Kind.CRATE)
            found[row[0]] = (about, as_state(row[3:]))
    return found
