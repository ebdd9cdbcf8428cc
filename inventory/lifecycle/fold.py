"""The fold: events in order of (happened, device, seq, id), its own and its groups', into the state of one piece.

A piece reads its own events and those of each group it is in at that moment. Whether it is in a group is itself an
outcome of the fold, so the two are walked together: when an event puts the piece into a pour, crate or docket, the
later events of that group join the stream; when it leaves, they drop out. So a "set" that arrives late still gets
the cast that was pressed for its pour before it arrived.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from inventory.lifecycle.events import Event, Group, Key
from inventory.lifecycle.kinds import Kind, Seen, Standing
from inventory.lifecycle.state import Finding, State
from inventory.lifecycle.transitions import LOOKED_AT, OUT_OF_THE_BOOKS, STEPS
from inventory.lifecycle.world import About, Places

GroupEvents = Callable[[Group], Sequence[Event]]
Watch = Callable[[Event, State, State], None]
"""Told of each event as it is applied, with the state before and after it."""


@dataclass(frozen=True, slots=True)
class Folded:
    """State, contradictions, the events that made it, and the groups the piece was in on the way.

    applied   in order, own and by group; reversed ones left out
    groups    every group whose events the fold read: a late event of one of these can change the state
    """

    state: State
    findings: tuple[Finding, ...]
    applied: tuple[Event, ...]
    groups: frozenset[Group]


def taken_back(events: Iterable[Event]) -> frozenset[UUID]:
    """Ids of the events that reversals take back, whatever order they came in.

    A reversal can itself be reversed; an event is taken back when some reversal of it stands. Reversals that go
    round in a circle take back nothing.
    """
    reversals: dict[UUID, list[UUID]] = {}
    for event in events:
        if event.kind == Kind.REVERSED and event.target is not None:
            reversals.setdefault(event.target, []).append(event.id)

    def stands(event: UUID, path: frozenset[UUID]) -> bool:
        below = path | {event}
        return not any(stands(by, below) for by in reversals.get(event, ()) if by not in below)

    return frozenset(target for target in reversals if not stands(target, frozenset()))


def apply(state: State, event: Event, places: Places, about: About) -> tuple[State, list[Finding]]:
    """One event onto one state."""
    if event.kind == Kind.COUNTED and "stocktake" in event.data:
        return replace(state, last=event.key), []  # seen in a stocktake: nothing follows until that is closed
    if state.standing in OUT_OF_THE_BOOKS:
        said = [] if event.kind in (Kind.REVERSED, Kind.INSPECTED) else [Finding("seen-after-retired", event.id)]
        return replace(state, last=event.key), said
    findings: list[Finding] = []
    if state.standing == Standing.UNREGISTERED and event.kind != Kind.REGISTERED:
        findings.append(Finding("not-registered", event.id))
        state = replace(state, standing=Standing.HELD)
    if state.standing == Standing.LOST and event.kind not in (Kind.LOST, Kind.FOUND, Kind.RETIRED):
        findings.append(Finding("seen-after-lost", event.id))
        state = replace(state, standing=Standing.HELD)
    if event.kind in LOOKED_AT and event.group is None and event.place is not None:
        state, moved = _had_in_hand(state, event, places)
        findings += moved
    state, more = STEPS[event.kind](state, event, places, about)
    return replace(state, last=event.key), findings + more


def _had_in_hand(state: State, event: Event, places: Places) -> tuple[State, list[Finding]]:
    """Somebody had the piece in hand at a place: that is where it is, and if the record differs, say so."""
    if event.place == state.place or event.seen in (Seen.BY_GROUP, Seen.ASSUMED):
        return state, []
    if state.place is not None and places.root(event.place) == places.root(state.place):
        if event.place == places.root(event.place):
            return state, []  # "at the yard" adds nothing to "in its wash bay"
        return replace(state, place=event.place, since=event.happened), []
    # closing a stocktake, the manager has seen where it was and confirmed it
    said = [] if "closes" in event.data else [Finding("seen-elsewhere", event.id)]
    return replace(state, place=event.place, docket=None, since=event.happened), said


def fold(
    own: Sequence[Event],
    group_events: GroupEvents,
    places: Places,
    about: About,
    start: State | None = None,
    watch: Watch | None = None,
) -> Folded:
    """The state of a piece from all its events, or from `start` on.

    own            events about the piece itself, in any order, reversals (also of group events for it) included
    group_events   for a group, its events sorted by key, without those reversed for the whole group
    watch          told of each step as it is taken
    start          a state already folded; then `own` needs only events newer than `start.last`, and all reversals
    """
    reversed_ids = taken_back(own)
    mine = sorted((e for e in own if e.kind != Kind.REVERSED and e.id not in reversed_ids), key=lambda e: e.key)
    state, findings, applied = start or State(), list[Finding](), list[Event]()
    at, position, visited = 0, state.last, set[Group]()
    while True:
        event = mine[at] if at < len(mine) else None
        reading = state.groups(about.piece, about.is_crate)
        visited |= reading
        for group in reading:
            other = _next_of(group_events(group), position, reversed_ids)
            if other is not None and (event is None or other.key < event.key):
                event = other
        if event is None:
            return Folded(state, tuple(findings), tuple(applied), frozenset(visited))
        if event.group is None:
            at += 1
        position, before = event.key, state
        state, found = apply(state, event, places, about)
        if watch is not None:
            watch(event, before, state)
        findings += found
        applied.append(event)


def _next_of(events: Sequence[Event], position: Key | None, reversed_ids: frozenset[UUID]) -> Event | None:
    at = 0 if position is None else bisect_right(events, position, key=lambda e: e.key)
    while at < len(events):
        if events[at].id not in reversed_ids:
            return events[at]
        at += 1
    return None
