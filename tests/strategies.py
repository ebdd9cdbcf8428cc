"""Hypothesis strategies of the whole suite, in one file.

`ledgers()` draws events in a small world, so that equal times, presses on groups, exceptions and reversals of things
that never came are met often.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID

from hypothesis import strategies as st

from inventory.lifecycle.events import Event, Group
from inventory.lifecycle.kinds import GROUP_PRESSES, Fitness, GroupKind, Kind, PlaceKind
from inventory.lifecycle.world import Places

YARD, BAY, SITE, POUR, UPPER, OTHER, OTHER_POUR = 1, 2, 3, 4, 5, 6, 7
PIECE, CRATE = 50, 60
DOCKETS = (80, 81)
START = datetime(2026, 3, 2, 6, 0, tzinfo=UTC)

WORLD = Places(
    kinds={
        YARD: PlaceKind.YARD,
        BAY: PlaceKind.WASH_BAY,
        SITE: PlaceKind.SITE,
        POUR: PlaceKind.POUR,
        UPPER: PlaceKind.POUR,
        OTHER: PlaceKind.SITE,
        OTHER_POUR: PlaceKind.POUR,
    },
    parents={BAY: YARD, POUR: SITE, UPPER: SITE, OTHER_POUR: OTHER},
)

pours = st.sampled_from([POUR, UPPER, OTHER_POUR])
sites = st.sampled_from([SITE, OTHER])
yards = st.sampled_from([YARD, BAY])
grades = st.sampled_from([g.value for g in Fitness])
dockets = st.sampled_from(DOCKETS)
hours = st.integers(min_value=0, max_value=12)

WHERE = {
    Kind.SENT: st.none(),
    Kind.SET: pours,
    Kind.CAST: pours,
    Kind.CALLED_OFF: pours,
    Kind.RECEIVED: sites,
    Kind.STRIPPED: sites,
    Kind.RETURNED: yards,
}
OWN_KINDS = [kind for kind in Kind if kind not in (Kind.REVERSED, Kind.CUT_DOWN, Kind.RETIRED)]
GROUPS = [Group(GroupKind.POUR, p) for p in (POUR, UPPER, OTHER_POUR)]
GROUPS += [Group(GroupKind.DOCKET, d) for d in DOCKETS] + [Group(GroupKind.CRATE, CRATE)]


def _data(draw, kind: Kind) -> dict:
    if kind in (Kind.FOUND_DAMAGED, Kind.INSPECTED, Kind.REPAIRED):
        return {"grade": draw(grades)}
    if kind == Kind.RETURNED:
        return draw(st.sampled_from([{}, {"dirty": True}, {"dirty": False, "from_place": SITE}]))
    if kind == Kind.COUNTED:
        return draw(st.sampled_from([{}, {"crate": CRATE}, {"crate": None}]))
    return {}


@st.composite
def events(draw, pk: int, ids: int) -> Event:
    """One event with the given number for its id; `ids` is how many there are, for reversals to aim at."""
    group = draw(st.one_of(st.none(), st.sampled_from(GROUPS)))
    kind = draw(st.sampled_from(OWN_KINDS if group is None else sorted(GROUP_PRESSES[group.kind])))
    stamp = {
        "id": UUID(int=pk),
        "happened": START + timedelta(hours=draw(hours)),
        "device": draw(st.sampled_from(["", "a", "b"])),
        "seq": draw(st.integers(0, 2)),
    }
    if draw(st.integers(0, 5)) == 0:
        target = UUID(int=draw(st.integers(0, ids)))
        return Event(kind=Kind.REVERSED, piece=PIECE if group is None else None, group=group, target=target, **stamp)
    place = draw(WHERE.get(kind, st.sampled_from([YARD, BAY, SITE, POUR])))
    return Event(
        kind=kind,
        piece=PIECE if group is None else None,
        group=group,
        place=place,
        docket=draw(dockets) if kind == Kind.SENT else None,
        data=_data(draw, kind),
        **stamp,
    )


@st.composite
def ledgers(draw, most: int = 14) -> list[Event]:
    """A registration and some events about one piece and the groups it may come into, in no order."""
    size = draw(st.integers(1, most))
    drawn = [draw(events(pk, size)) for pk in range(1, size + 1)]
    registered = Event(id=UUID(int=0), kind=Kind.REGISTERED, happened=START, piece=PIECE, place=YARD)
    return draw(st.permutations([registered, *drawn]))
