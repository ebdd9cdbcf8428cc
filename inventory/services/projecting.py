"""The cached state of pieces, brought up to date after new events; and what the fold found, put up for review.

A piece whose new events are all newer than its newest is folded on from its cached state; any other is folded
again from its beginning.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from inventory.lifecycle.events import Event, Group
from inventory.lifecycle.fold import Folded, Watch, fold
from inventory.lifecycle.kinds import GroupKind, Kind
from inventory.lifecycle.sentences import FOLD_CODES, is_loud
from inventory.lifecycle.state import State
from inventory.lifecycle.world import About, Places
from inventory.models import GroupMember, Piece, ReviewItem
from inventory.selectors.ledger import (
    STATE_COLUMNS,
    cached,
    chunked,
    members,
    own_events,
    read_ahead,
)
from inventory.selectors.rows import moment_in, uuid_in
from inventory.services.storing import change, store

Known = Mapping[int, tuple[About, State]]
SETTLED_ITSELF = "no longer contradicts the record"


@dataclass(frozen=True, slots=True)
class Refolded:
    """One piece folded: from which state, whether from its beginning, and the outcome."""

    about: About
    before: State
    whole: bool
    folded: Folded


def touched_by(new: Iterable[Event]) -> dict[int, list[Event]]:
    """The pieces whose state new events may change, each with the events that reach it."""
    events = list(new)
    reach = members({e.group for e in events if e.group is not None and e.piece is None})
    touched: dict[int, list[Event]] = defaultdict(list)
    for event in events:
        if event.piece is not None:
            touched[event.piece].append(event)
        elif event.group is not None:
            for piece in reach[event.group]:
                touched[piece].append(event)
    return touched


def goes_on(state: State, new: Sequence[Event]) -> bool:
    """Whether folding on from the cached state gives the same as folding from the beginning."""
    newer = state.last is None or all(event.key > state.last for event in new)
    return newer and all(event.kind != Kind.REVERSED for event in new)


def refold(
    touched: dict[int, list[Event]], places: Places, had: Known, watches: Mapping[int, Watch] | None = None
) -> list[Refolded]:
    """`had` are cached states read before, inside the same transaction; `watches`, by piece, are told of each step."""
    known = {pk: had[pk] for pk in touched if pk in had}
    if unknown := touched.keys() - known.keys():
        known |= cached(unknown)
    onward = {pk for pk, (_, state) in known.items() if goes_on(state, touched[pk])}
    groups = {group for about, state in known.values() for group in state.groups(about.piece, about.is_crate)}
    groups |= _named(event for events in touched.values() for event in events)
    loose, reversals, book = read_ahead(onward, groups)
    own = own_events(known.keys() - onward) if len(onward) < len(known) else {}
    done = []
    for pk, (about, state) in known.items():
        watch = watches.get(pk) if watches else None
        if pk in onward:
            mine = [e for e in touched[pk] if e.piece == pk] + reversals.get(pk, [])
            folded = fold([*mine, *loose], book, places, about, state, watch)
        else:
            folded = fold([*own.get(pk, []), *loose], book, places, about, watch=watch)
        done.append(Refolded(about, state, pk not in onward, folded))
    return done


def _named(events: Iterable[Event]) -> set[Group]:
    """Groups that events may put a piece into: read them ahead, together."""
    groups = set()
    for event in events:
        if event.docket is not None:
            groups.add(Group(GroupKind.DOCKET, event.docket))
        if event.kind in (Kind.SET, Kind.CAST) and event.place is not None:
            groups.add(Group(GroupKind.POUR, event.place))
    return groups


def write_states(done: Iterable[Refolded]) -> None:
    """The only writer of the state columns.

    Only what changed is set, since each index on a column that is set must be written anew, changed or not. Pieces
    whose same columns changed share one statement.
    """
    alike: dict[tuple[int, ...], list[list[Any]]] = defaultdict(list)
    moment, uuid = moment_in(), uuid_in()
    for each in done:
        old, new = _values(each.before, moment, uuid), _values(each.folded.state, moment, uuid)
        changed = tuple(at for at, value in enumerate(new) if value != old[at])
        if changed:
            alike[changed].append([*(new[at] for at in changed), each.about.piece])
    for changed, rows in alike.items():
        change(Piece, tuple(STATE_COLUMNS[at] for at in changed), rows)


def _values(state: State, moment: Callable[[Any], Any], uuid: Callable[[Any], Any]) -> tuple[Any, ...]:
    """Values of STATE_COLUMNS as this database takes them."""
    happened, device, seq, last = state.last if state.last is not None else (None, "", 0, None)
    return (
        state.standing.value,
        state.place,
        state.docket,
        state.pour,
        state.phase.value,
        state.crate,
        state.dirty,
        state.fitness.value,
        state.uses,
        state.uses_since_clean,
        moment(state.since),
        moment(happened),
        device,
        seq,
        uuid(last),
    )


def write_members(done: Iterable[Refolded]) -> None:
    rows = []
    for each in done:
        had = (
            set()
            if each.whole or each.before.last is None
            else each.before.groups(each.about.piece, each.about.is_crate)
        )
        rows += [(each.about.piece, group) for group in each.folded.groups - had]
    columns = ("piece_id", "group_kind", "group_id")
    new = [(pk, group.kind.value, group.id) for pk, group in rows]
    store(GroupMember, columns, new, unless_there=True)


def review(done: Iterable[Refolded], now: datetime) -> dict[UUID, list[str]]:
    """Raise what was newly found, settle what a fold no longer finds. Returns the codes found, by event."""
    codes: dict[UUID, list[str]] = defaultdict(list)
    found: dict[tuple[UUID, int, str], None] = {}
    for each in done:
        for finding in each.folded.findings:
            found[finding.event, each.about.piece, finding.code] = None
            codes[finding.event].append(finding.code)
    _settle({each.about.piece for each in done if each.whole}, found, now)
    ReviewItem.objects.bulk_create(
        [
            ReviewItem(code=code, event_id=event, piece_id=piece, loud=is_loud(code), opened_at=now)
            for event, piece, code in found
        ],
        ignore_conflicts=True,
        batch_size=1000,
    )
    return codes


def _settle(pieces: set[int], found: dict[tuple[UUID, int, str], None], now: datetime) -> None:
    """What a whole fold no longer finds settles itself; what it finds again opens again unless a person settled it."""
    gone, back = list[int](), list[int]()
    for ids in chunked(pieces):
        rows = ReviewItem.objects.filter(piece__in=ids, code__in=FOLD_CODES)
        for pk, event, piece, code, settled, by in rows.values_list(
            "pk", "event_id", "piece_id", "code", "settled_at", "settled_by_id"
        ):
            still = (event, piece, code) in found
            if settled is None and not still:
                gone.append(pk)
            elif settled is not None and still and by is None:
                back.append(pk)
    if gone:
        ReviewItem.objects.filter(pk__in=gone).update(settled_at=now, how=SETTLED_ITSELF)
    if back:
        ReviewItem.objects.filter(pk__in=back, how=SETTLED_ITSELF).update(settled_at=None, how="")


def project(new: Sequence[Event], places: Places, now: datetime, had: Known) -> dict[UUID, list[str]]:
    """Bring every piece that the new events reach up to date. Returns the codes found, by event.

    had   cached states read before, inside the same transaction
    """
    done = refold(touched_by(new), places, had)
    write_states(done)
    write_members(done)
    return review(done, now)
