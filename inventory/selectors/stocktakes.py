"""What a stocktake has seen so far, against the record: found, missing, out of place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from uuid import UUID

from django.db.models import Q, QuerySet

from inventory.lifecycle.fold import taken_back
from inventory.lifecycle.kinds import Fitness, Kind, Seen, Standing
from inventory.lifecycle.world import Places
from inventory.models import CountedStock, Event, GearType, Piece, Place, ReviewItem, Stocktake
from inventory.selectors.ledger import chunked, events_where
from inventory.selectors.rows import holes, uuid_in

BY_HAND = (Seen.SCANNED, Seen.TYPED)
"""What was seen by group, or assumed, never counts as seen."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """One piece seen, where and by which event; the latest if it was seen more than once."""

    piece: Piece
    event: Event


@dataclass(frozen=True, slots=True)
class Goods:
    """Goods of one type in one condition at one place: the record now, and the counts of this stocktake added up.

    counts   the events, oldest first; empty where nobody has counted them, and then nothing about them changes
    """

    type: GearType
    place: Place
    condition: str
    record: int
    counts: tuple[Event, ...] = ()

    @property
    def counted(self) -> int | None:
        return sum(event.quantity or 0 for event in self.counts) if self.counts else None

    @property
    def fewer(self) -> int:
        return -(self.difference or 0)

    @property
    def difference(self) -> int | None:
        return None if self.counted is None else self.counted - self.record


@dataclass(slots=True)
class Compared:
    """Every piece that was seen or should have been, on one list only.

    found         seen, and recorded here
    missing       recorded here since before the stocktake was opened, and not seen
    came_since    recorded here only since it was opened, and not seen: nobody need look for it
    out_of_place  seen here, recorded elsewhere, and not moved since it was seen
    was_lost      seen here, written off as lost
    off_the_books seen here, retired or cut down
    left_since    seen here, and gone since by the record
    goods         of what is counted: each type, place and condition that is recorded here or was counted
    untagged      pieces seen whose tag could not be read, and of which nobody has said yet which they were
    """

    found: list[Sighting] = field(default_factory=list)
    missing: list[Piece] = field(default_factory=list)
    came_since: list[Piece] = field(default_factory=list)
    out_of_place: list[Sighting] = field(default_factory=list)
    was_lost: list[Sighting] = field(default_factory=list)
    off_the_books: list[Sighting] = field(default_factory=list)
    left_since: list[Sighting] = field(default_factory=list)
    goods: list[Goods] = field(default_factory=list)
    untagged: int = 0

    @property
    def seen(self) -> int:
        return sum(map(len, (self.found, self.out_of_place, self.was_lost, self.off_the_books, self.left_since)))


def sightings(stocktake: Stocktake) -> dict[int, Event]:
    """By piece, the newest count by hand in this stocktake that nobody took back."""
    counts = Event.objects.filter(
        kind=Kind.COUNTED,
        recorded_at__gte=stocktake.opened_at,
        piece__isnull=False,
        seen__in=BY_HAND,
        data__stocktake=stocktake.pk,
    ).select_related("person", "place")
    events = list(counts.order_by("happened_at", "device", "seq", "id"))
    gone = _taken_back(event.pk for event in events)
    return {event.piece_id: event for event in events if event.pk not in gone and event.piece_id is not None}


def goods_counts(stocktake: int) -> dict[tuple[int, int, str], list[Event]]:
    """By type, place and condition, the counts of goods in this stocktake that nobody took back, oldest first.

    Each is a count of one heap, by whoever stood before it: several of one type at one place add up.
    """
    counts = Event.objects.filter(
        kind=Kind.COUNTED, type__isnull=False, data__stocktake=stocktake, data__until_closed=True
    ).select_related("person")
    events = list(counts.order_by("happened_at", "device", "seq", "id"))
    gone = _taken_back(event.pk for event in events)
    found: dict[tuple[int, int, str], list[Event]] = {}
    for event in events:
        if event.pk not in gone and event.type_id is not None and event.place_id is not None:
            spot = event.type_id, event.place_id, str(event.data.get("condition", Fitness.SOUND.value))
            found.setdefault(spot, []).append(event)
    return found


def _goods(stocktake: Stocktake) -> list[Goods]:
    here = Q(place=stocktake.place) | Q(place__parent=stocktake.place)
    rows = CountedStock.objects.filter(here).exclude(quantity=0).values_list("type", "place", "condition", "quantity")
    record = {(type_, place, condition): quantity for type_, place, condition, quantity in rows}
    counts = goods_counts(stocktake.pk)
    spots = record.keys() | counts.keys()
    types = GearType.objects.in_bulk({type_ for type_, _, _ in spots})
    places = Place.objects.select_related("parent").in_bulk({place for _, place, _ in spots})
    lines = [
        Goods(types[spot[0]], places[spot[1]], spot[2], record.get(spot, 0), tuple(counts.get(spot, ())))
        for spot in spots
    ]
    return sorted(lines, key=lambda line: (line.type.code, str(line.place), line.condition))


def closed_goods(stocktake: Stocktake) -> QuerySet[Event]:
    """The counts of goods that closing wrote."""
    written = Event.objects.filter(kind=Kind.COUNTED, type__isnull=False, data__closes=stocktake.pk)
    return written.select_related("type", "place__parent").order_by("type__code", "place__name")


def _taken_back(ids: Iterable[UUID]) -> frozenset[UUID]:
    uuid, reversals, frontier = uuid_in(), [], set(ids)
    while frontier:
        new = [
            event
            for some in chunked(frontier)
            for event in events_where(f'e."target" IN ({holes(some)})', [uuid(pk) for pk in some])
        ]
        reversals += new
        frontier = {event.id for event in new}
    return taken_back(reversals)


def compare(stocktake: Stocktake) -> Compared:
    """In a fixed number of queries."""
    seen, places = sightings(stocktake), Place.objects.as_world()
    compared = Compared()
    here = Piece.objects.held().within(stocktake.place).select_related("type", "place__parent")
    for piece in here.order_by("type__code", "label"):
        if piece.pk in seen:
            compared.found.append(Sighting(piece, seen.pop(piece.pk)))
        elif piece.since is not None and piece.since >= stocktake.opened_at:
            compared.came_since.append(piece)
        else:
            compared.missing.append(piece)
    for some in chunked(seen):
        rest = Piece.objects.filter(pk__in=some).select_related("type", "place__parent", "docket")
        for piece in rest.order_by("type__code", "label"):
            _elsewhere(compared, Sighting(piece, seen[piece.pk]), places)
    compared.goods = _goods(stocktake)
    nameless = ReviewItem.objects.open().filter(code="untagged", event__kind=Kind.COUNTED)
    compared.untagged = nameless.filter(event__data__stocktake=stocktake.pk).count()
    return compared


def _elsewhere(compared: Compared, sighting: Sighting, places: Places) -> None:
    piece = sighting.piece
    if piece.standing == Standing.LOST:
        compared.was_lost.append(sighting)
    elif piece.standing != Standing.HELD:
        compared.off_the_books.append(sighting)
    elif piece.since is not None and piece.since > sighting.event.happened_at:
        compared.left_since.append(sighting)
    else:
        compared.out_of_place.append(sighting)


def for_lists() -> QuerySet[Stocktake]:
    return Stocktake.objects.select_related("place__parent", "opened_by", "closed_by")
