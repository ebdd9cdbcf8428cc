"""The ledger as moves of hire: what of a piece's life starts, ends or marks a stay on a job, as known at a moment.

A piece is on a job from the moment its truck leaves for the site (or, where no leaving was pressed, from when it
is seen there) until it is seen in a yard again, is lost, sold or taken off the books. Loading alone starts nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from django.db.models import Q

from inventory.lifecycle.events import Event, Group
from inventory.lifecycle.fold import apply, fold, taken_back
from inventory.lifecycle.kinds import Fitness, GroupKind, Kind, PlaceKind, Standing
from inventory.lifecycle.state import State
from inventory.lifecycle.world import Places
from inventory.models import Docket, GearType, GroupMember, Piece, Place
from inventory.models import Event as EventRow
from inventory.selectors.ledger import GroupBook, chunked, read
from jobs.hire.moves import Move
from jobs.models import Job

OFF = frozenset({Standing.RETIRED, Standing.CUT_DOWN})


@dataclass(frozen=True)
class World:
    """Places, dockets, which site is which job's, and the codes of goods that are used up: read once."""

    places: Places
    jobs: dict[int, int]
    dockets: dict[int, Docket]
    used_up: frozenset[str]

    def job_at(self, place: int | None) -> int | None:
        """The job whose site a place belongs to."""
        return self.jobs.get(self.places.root(place) or 0)

    def is_yard(self, place: int | None) -> bool:
        root = self.places.root(place)
        return root is not None and self.places.kinds.get(root) == PlaceKind.YARD


def read_world() -> World:
    jobs = dict(Job.objects.values_list("site_id", "pk"))
    used_up = GearType.objects.filter(used_up=True).values_list("code", flat=True)
    return World(Place.objects.as_world(), jobs, Docket.objects.in_bulk(), frozenset(used_up))


@dataclass
class Life:
    """What one piece's events come to for hire: moves, damage found and made good again, and how it came back."""

    piece: Piece
    moves: list[Move] = field(default_factory=list)
    damage: list[Event] = field(default_factory=list)
    mended: list[Event] = field(default_factory=list)
    losses: list[Event] = field(default_factory=list)
    returns: list[Event] = field(default_factory=list)


def pieces_of(job: Job) -> set[int]:
    """Pieces that were ever on one of the job's dockets, or seen on its site."""
    dockets = Docket.objects.filter(Q(from_place=job.site_id) | Q(to_place=job.site_id)).values("pk")
    found = set(
        GroupMember.objects.filter(group_kind=GroupKind.DOCKET, group_id__in=dockets).values_list("piece", flat=True)
    )
    places = Place.objects.filter(Q(pk=job.site_id) | Q(parent=job.site_id)).values("pk")
    pours = GroupMember.objects.filter(group_kind=GroupKind.POUR, group_id__in=places)
    found.update(pours.values_list("piece", flat=True))
    seen = EventRow.objects.filter(place__in=places, piece__isnull=False)
    found.update(seen.order_by().values_list("piece", flat=True).distinct())
    return found


def lives(pieces: Iterable[int], world: World, known_at: datetime) -> Iterator[Life]:
    """The life of each piece by the events recorded up to `known_at`. A fixed number of queries for each 5,000."""
    known = EventRow.objects.filter(recorded_at__lte=known_at)
    loose = tuple(read(known.filter(kind=Kind.REVERSED, piece=None, group_kind="", type=None)))
    for ids in chunked(sorted(pieces)):
        own: dict[int, list[Event]] = {}
        for event in read(known.filter(piece__in=ids)):
            own.setdefault(event.piece or 0, []).append(event)
        book = _book(ids, known, loose)
        for piece in Piece.objects.filter(pk__in=ids).select_related("type", "hired_in").order_by("pk"):
            yield _life(piece, [*own.get(piece.pk, ()), *loose], book, world)


def _book(ids: list[int], known: object, loose: tuple[Event, ...]) -> GroupBook:
    book = GroupBook(loose)
    wanted: dict[str, set[int]] = {GroupKind.CRATE: set(ids)}
    for kind, pk in GroupMember.objects.filter(piece__in=ids).values_list("group_kind", "group_id").distinct():
        wanted.setdefault(kind, set()).add(pk)
    for kind, groups in wanted.items():
        for some in chunked(sorted(groups)):
            rows = known.filter(group_kind=kind, group_id__in=some, piece=None)  # type: ignore[attr-defined]
            book.put((Group(GroupKind(kind), pk) for pk in some), read(rows))
    return book


def _life(piece: Piece, own: list[Event], book: GroupBook, world: World) -> Life:
    about = piece.type.about(piece.pk)
    folded = fold(own, book, world.places, about)
    walk = _Walk(piece, world, book)
    state = State()
    for event in folded.applied:
        before, (state, _) = state, apply(state, event, world.places, about)
        walk.step(event, before, state)
    return walk.life


class _Walk:
    """One piece, event by event: on which job it is, and the load that will take it to one."""

    def __init__(self, piece: Piece, world: World, book: GroupBook) -> None:
        self.life, self.world, self.book = Life(piece), world, book
        self.job: int | None = None
        self.loaded: Event | None = None

    def step(self, event: Event, before: State, now: State) -> None:
        if now.uses > before.uses and event.kind != Kind.REGISTERED:
            self._move("cast", event)
        if event.kind == Kind.FOUND_DAMAGED:
            self.life.damage.append(event)
        if now.fitness == Fitness.SOUND != before.fitness:
            self.life.mended.append(event)
        if event.kind == Kind.LOST:
            self.life.losses.append(event)
        if event.kind == Kind.SENT and now.place is None and before.docket != now.docket:
            self.loaded = event
        if now.standing in OFF or (now.standing == Standing.LOST) != (before.standing == Standing.LOST):
            self._books(event, before, now)
        elif now.place is not None:
            self._seen(event, before, now)
        elif now.docket is not None:
            self._on_truck(event, now.docket)

    def _books(self, event: Event, before: State, now: State) -> None:
        """Lost, found, or off the books."""
        if now.standing == Standing.HELD:
            if self.world.is_yard(now.place):
                self._back(event)
            elif self.world.job_at(now.place) is not None:
                self.job = self.world.job_at(now.place)
                self._move("found", event, job=self.job)
            return
        if self.job is None or before.standing in OFF:
            return
        if now.standing == Standing.LOST:
            self._move("lost", event)
            return
        self._move("sold" if event.data.get("how") == "sold" else "back", event)
        self.job = None

    def _seen(self, event: Event, before: State, now: State) -> None:
        here = self.world.job_at(now.place)
        if here is not None:
            self._go(event, here, now.docket)
            if event.kind == Kind.RECEIVED and before.place is None:
                self._move("received", event)
        elif self.world.is_yard(now.place) and self.job is not None:
            self._back(event)

    def _on_truck(self, event: Event, number: int) -> None:
        docket = self.world.dockets[number]
        left = self._leaving(event, number)
        if left is None:
            return
        there = self.world.jobs.get(docket.to_place_id)
        if there is not None:
            self._go(event, there, number)
        elif self.job is not None and event.group == Group(GroupKind.DOCKET, number):
            self._move("collected", event)

    def _leaving(self, event: Event, number: int) -> Event | None:
        """The press that said that the truck left, up to this event."""
        presses = self.book(Group(GroupKind.DOCKET, number))
        return next((one for one in presses if one.kind == Kind.SENT and one.key <= event.key), None)

    def _go(self, event: Event, there: int, docket: int | None) -> None:
        if there == self.job:
            return
        kind = "out" if self.job is None else "across"
        self.job = there
        first = self.loaded if self.loaded is not None and self.loaded.docket == docket else event
        line = self.world.dockets[docket].number if docket in self.world.dockets else "no docket"
        self._move(kind, event, job=there, id=first.id, line=line)

    def _back(self, event: Event) -> None:
        self.life.returns.append(event)
        self._move("back", event)
        self.job = None

    def _move(self, kind: str, event: Event, *, job: int | None = None, id: UUID | None = None, line: str = "") -> None:
        piece = self.life.piece
        self.life.moves.append(
            Move(
                id=str(id or event.id),
                kind=kind,  # type: ignore[arg-type]
                at=event.happened,
                piece=str(piece.pk),
                type=piece.type.code,
                job=str(job or self.job or ""),
                gear=piece.type.kind,
                hired_in=hasattr(piece, "hired_in"),
                line=line,
                device=event.device,
                sequence=event.seq,
            )
        )


def counted_moves(job: Job, world: World, known_at: datetime) -> list[Move]:
    """Goods tracked by count: out with a docket to the site, back with one from it, lost there."""
    dockets = {pk: one for pk, one in world.dockets.items() if job.site_id in (one.from_place_id, one.to_place_id)}
    known = EventRow.objects.filter(recorded_at__lte=known_at)
    rows = known.filter(Q(docket__in=dockets) | Q(kind=Kind.LOST, place=job.site_id), type__isnull=False, piece=None)
    own = [event for event in read(rows) if not event.data.get("untagged")]
    reversals = list(read(known.filter(kind=Kind.REVERSED, piece=None)))
    gone = taken_back([*own, *reversals])
    presses = list(read(known.filter(group_kind=GroupKind.DOCKET, group_id__in=dockets, piece=None)))
    standing = [one for one in [*own, *presses] if one.id not in gone and one.kind != Kind.REVERSED]
    types = GearType.objects.in_bulk({one.type for one in own})
    walk = _Goods(job, dockets, types)
    for event in sorted(standing, key=lambda one: one.key):
        walk.step(event)
    return walk.moves


class _Goods:
    """What is on each truck, by type, from loading to the press that speaks for all of it."""

    def __init__(self, job: Job, dockets: dict[int, Docket], types: dict[int, GearType]) -> None:
        self.job, self.dockets, self.types = job, dockets, types
        self.on: dict[tuple[int, int], list[tuple[Event, int]]] = {}
        self.left: set[int] = set()
        self.moves: list[Move] = []

    def step(self, event: Event) -> None:
        number = event.group.id if event.group else event.docket
        if event.kind == Kind.LOST and event.type is not None:
            self._move("lost", event, event.type, event.quantity or 0, None)
        elif number is None:
            return
        elif event.kind == Kind.SENT:
            self._sent(event, number)
        elif event.kind in (Kind.RECEIVED, Kind.RETURNED) and self._to_site(number) is False:
            self._returned(event, number)

    def _to_site(self, number: int) -> bool:
        return self.dockets[number].to_place_id == self.job.site_id

    def _sent(self, event: Event, number: int) -> None:
        if event.group is not None:
            self.left.add(number)
            for (docket, type_), heap in self.on.items():
                if docket == number and self._to_site(number):
                    for load, quantity in heap:
                        self._move("out", load, type_, quantity, number, event.happened)
                    heap.clear()
            return
        if event.type is None:
            return
        if self._to_site(number) and number in self.left:
            self._move("out", event, event.type, event.quantity or 0, number)
            return
        self.on.setdefault((number, event.type), []).append((event, event.quantity or 0))

    def _returned(self, event: Event, number: int) -> None:
        if event.group is None and event.type is not None:
            left = sum(quantity for _, quantity in self.on.get((number, event.type), ()))
            self.on[number, event.type] = [(event, max(0, left - (event.quantity or 0)))]
            self._move("back", event, event.type, event.quantity or 0, number)
            return
        for (docket, type_), heap in self.on.items():
            rest = sum(quantity for _, quantity in heap)
            if docket == number and rest:
                self._move("back", event, type_, rest, number)
                heap.clear()

    def _move(
        self, kind: str, event: Event, type_: int, count: int, docket: int | None, at: datetime | None = None
    ) -> None:
        if not count:
            return
        gear = self.types[type_]
        self.moves.append(
            Move(
                id=str(event.id) if event.group is None else f"{event.id}:{gear.code}",
                kind=kind,  # type: ignore[arg-type]
                at=at or event.happened,
                type=gear.code,
                job=str(self.job.pk),
                count=count,
                gear=gear.kind,
                by_count=True,
                line=self.dockets[docket].number if docket is not None and kind == "out" else "",
                device=event.device,
                sequence=event.seq,
            )
        )
