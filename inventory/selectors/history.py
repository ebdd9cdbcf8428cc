"""One piece's life, from the ledger: every event that reached it, the stretches it spent at places, its pours."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.utils.timezone import localtime

from inventory.figures.life import Life, LifeWalk
from inventory.lifecycle.events import Event, Group
from inventory.lifecycle.fold import Folded, apply, fold, taken_back
from inventory.lifecycle.kinds import GroupKind, Kind
from inventory.lifecycle.state import State
from inventory.lifecycle.world import About, Places
from inventory.models import Event as EventRow
from inventory.models import GroupMember, Photo, Piece, Place
from inventory.selectors.ledger import GroupBook, loose_reversals, own_events

LATE = timedelta(minutes=15)
"""An event recorded this long after it happened is said to have come late; sooner is only the time of pressing."""


@dataclass(slots=True)
class Line:
    """One event as the page tells it. `late` is how long after it happened it came; `taken_back` leaves no trace."""

    row: EventRow
    taken_back: bool
    late: timedelta | None
    photos: list[Photo] = field(default_factory=list)

    @property
    def by_group(self) -> str:
        return self.row.group_kind


@dataclass(slots=True)
class Stretch:
    """Time at one yard or site, or on the road (`place` None); `until` None is now."""

    place: Place | None
    since: datetime
    until: datetime | None = None
    casts: int = 0
    cleans: int = 0
    damages: int = 0


@dataclass(slots=True)
class PourUse:
    """How often the piece was cast in one pour, and when first and last."""

    place: Place
    casts: int
    first: datetime
    last: datetime


@dataclass(frozen=True, slots=True)
class History:
    lines: Sequence[Line]
    stretches: Sequence[Stretch]
    pours: Sequence[PourUse]
    life: Life


def history(piece: Piece) -> History:
    """Newest event first; stretches and pours from the beginning. A fixed number of queries."""
    own = own_events([piece.pk])[piece.pk]
    loose = loose_reversals()
    world = Place.objects.as_world()
    about = piece.type.about(piece.pk)
    walk = LifeWalk(lambda when: localtime(when).date(), world, about)
    folded = fold([*own, *loose], _book(piece.pk, loose), world, about, watch=walk)
    places = {place.pk: place for place in Place.objects.select_related("parent")}
    stretches, pours = _walk(folded, world, about, places)
    return History(_lines(own, folded), stretches, pours, walk.life)


def _book(piece: int, loose: Iterable[Event]) -> GroupBook:
    book = GroupBook(loose)
    groups = GroupMember.objects.filter(piece=piece).values_list("group_kind", "group_id")
    book.fetch([*(Group(GroupKind(kind), pk) for kind, pk in groups), Group(GroupKind.CRATE, piece)])
    return book


def _lines(own: Sequence[Event], folded: Folded) -> list[Line]:
    gone = taken_back(own)
    ids = {event.id for event in own} | {event.id for event in folded.applied}
    photos = defaultdict(list)
    for photo in Photo.objects.filter(event_id__in=ids):
        photos[photo.event_id].append(photo)
    rows = EventRow.objects.filter(pk__in=ids).select_related("person", "place__parent", "docket", "type")
    ordered = sorted(rows, key=lambda row: (row.happened_at, row.device, row.seq, row.pk), reverse=True)
    return [Line(row, row.pk in gone, _late(row), photos[row.pk]) for row in ordered]


def _late(row: EventRow) -> timedelta | None:
    took = row.recorded_at - row.happened_at
    return took if took > LATE else None


def _walk(folded: Folded, world: Places, about: About, places: dict[int, Place]) -> tuple[list[Stretch], list[PourUse]]:
    state = State()
    stretches: list[Stretch] = []
    pours: dict[int, PourUse] = {}
    for event in folded.applied:
        uses = state.uses
        state, _ = apply(state, event, world, about)
        _stretch(stretches, event, state, places.get(world.root(state.place) or 0))
        here = stretches[-1]
        if event.kind != Kind.REGISTERED:  # the uses it came with were made elsewhere
            here.casts += state.uses - uses
        here.cleans += event.kind == Kind.CLEANED
        here.damages += event.kind == Kind.FOUND_DAMAGED
        if state.uses > uses and state.pour in places:
            use = pours.setdefault(state.pour, PourUse(places[state.pour], 0, event.happened, event.happened))
            use.casts, use.last = use.casts + 1, event.happened
    return stretches, list(pours.values())


def _stretch(stretches: list[Stretch], event: Event, state: State, root: Place | None) -> None:
    if stretches and stretches[-1].place == root:
        return
    if stretches:
        stretches[-1].until = event.happened
    stretches.append(Stretch(root, event.happened))
