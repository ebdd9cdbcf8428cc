"""What a docket carries, read from its events: wanted, loaded, left and arrived, side by side, never averaged."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from uuid import UUID

from django.db.models import Q

from inventory.lifecycle.events import Event as PlainEvent
from inventory.lifecycle.fold import taken_back
from inventory.lifecycle.kinds import Fitness, GroupKind, Kind
from inventory.models import Docket, Event, GearType, GroupMember, HandCount, Piece

ARRIVALS = (Kind.RECEIVED, Kind.RETURNED)
MOVES = (Kind.SENT, *ARRIVALS)


@dataclass(slots=True)
class Carried:
    """One piece that the docket loaded, or that came off its truck without having been loaded."""

    piece: Piece
    loaded: bool = False
    arrived: bool = False
    dirty: bool | None = None
    in_crate: bool = False


@dataclass(slots=True)
class Line:
    """One type on the docket: every number that anyone gave, each by whoever gave it.

    A number is None where nobody has said anything; nought means that somebody counted none.
    """

    type: GearType
    wanted: int = 0
    loaded: int = 0
    arrived: int = 0
    untagged: int = 0
    counts: dict[str, int] = field(default_factory=dict)
    pieces: list[Carried] = field(default_factory=list)

    @property
    def missing(self) -> int:
        return max(0, self.wanted - self.loaded)

    @property
    def came(self) -> int:
        """Arrived by tag, by quantity, or without a readable tag."""
        return self.arrived + self.untagged

    @property
    def mass_kg(self) -> Decimal:
        return self.type.mass_kg * self.loaded

    @property
    def not_arrived(self) -> list[Carried]:
        return [one for one in self.pieces if one.loaded and not one.arrived]

    @property
    def not_loaded(self) -> list[Carried]:
        return [one for one in self.pieces if one.arrived and not one.loaded]


@dataclass(frozen=True, slots=True)
class Difference:
    """One type whose numbers do not agree, with who said which, and the pieces it is about."""

    type: GearType
    said: tuple[tuple[str, int], ...]
    not_arrived: tuple[Carried, ...]
    not_loaded: tuple[Carried, ...]

    @property
    def words(self) -> str:
        return "; ".join(f"{who} {number}" for who, number in self.said)


@dataclass(frozen=True, slots=True)
class Sheet:
    """A docket as it reads on paper."""

    docket: Docket
    lines: tuple[Line, ...]
    arrival_pressed: bool

    @property
    def loaded(self) -> int:
        return sum(line.loaded for line in self.lines)

    @property
    def wanted(self) -> int:
        return sum(line.wanted for line in self.lines)

    @property
    def came(self) -> int:
        return sum(line.came for line in self.lines)

    @property
    def mass_kg(self) -> Decimal:
        return sum((line.mass_kg for line in self.lines), Decimal(0))

    @property
    def over_kg(self) -> Decimal:
        """By how much the load so far exceeds the truck's limit; nought within it or without one."""
        limit = self.docket.payload_limit_kg
        return max(Decimal(0), self.mass_kg - limit) if limit else Decimal(0)

    @property
    def missing(self) -> list[Line]:
        return [line for line in self.lines if line.missing]

    @property
    def lacking(self) -> int:
        """How many of what is wanted are not on it, line by line: more of one thing makes up for no other."""
        return sum(line.missing for line in self.lines)

    @property
    def met(self) -> int:
        return self.wanted - self.lacking

    @property
    def unfit(self) -> list[Piece]:
        every = (one.piece for line in self.lines for one in line.pieces if one.loaded)
        return [piece for piece in every if piece.fitness == Fitness.UNFIT]

    @property
    def still_on_it(self) -> list[Carried]:
        return [one for line in self.lines for one in line.not_arrived]

    @property
    def differences(self) -> list[Difference]:
        found = (_difference(line, self._counting_begun) for line in self.lines)
        return [difference for difference in found if difference is not None]

    @property
    def _counting_begun(self) -> bool:
        return self.docket.received_at is not None or self.arrival_pressed or self.came > 0


def _difference(line: Line, counting_begun: bool) -> Difference | None:
    """Every number given for the line, when two of them differ or the pieces themselves do."""
    said = []
    if line.wanted:
        said.append(("wanted", line.wanted))
    said.append(("loaded", line.loaded))
    said += [(f"{who} counted", number) for who, number in sorted(line.counts.items())]
    if counting_begun:
        said.append(("arrived", line.came))
    told = [number for who, number in said if who != "wanted"]
    apart = tuple(line.not_arrived) if counting_begun else ()
    extra = tuple(line.not_loaded)
    if len(set(told)) == 1 and not apart and not extra:
        return None
    return Difference(line.type, tuple(said), apart, extra)


def sheet(docket: Docket) -> Sheet:
    """The docket with its lines, in a number of queries that does not grow with the load."""
    standing = _Standing(docket)
    lines: dict[int, Line] = {}
    types: set[int] = set(standing.quantities) | {one.piece.type_id for one in standing.carried.values()}
    wanted = {line.type_id: line.wanted for line in docket.lines.all()}
    counts: dict[int, Counter[str]] = defaultdict(Counter)
    for count in HandCount.objects.filter(docket=docket):
        counts[count.type_id][count.by] += count.quantity
    for type_ in GearType.objects.filter(pk__in=types | set(wanted) | set(counts)):
        lines[type_.pk] = Line(type_, wanted.get(type_.pk, 0), counts=dict(counts.get(type_.pk, {})))
    for one in sorted(standing.carried.values(), key=lambda one: one.piece.label):
        line = lines[one.piece.type_id]
        line.pieces.append(one)
        line.loaded += one.loaded
        line.arrived += one.arrived
    for type_id, quantity in standing.quantities.items():
        line = lines[type_id]
        line.loaded += quantity["loaded"]
        line.arrived += quantity["arrived"]
        line.untagged += quantity["untagged"]
    in_order = sorted(lines.values(), key=lambda line: line.type.place_in_lists)
    return Sheet(docket, tuple(in_order), bool(standing.presses))


def goods_lacking(found: Sheet, *, back: bool) -> list[tuple[GearType, int]]:
    """Counted goods that are still to go on, or of what went on still to come off, with how many."""
    lacking = [(line.type, line.loaded - line.came if back else line.missing) for line in found.lines]
    return [(kind, count) for kind, count in lacking if count > 0 and kind.tracked == GearType.Tracked.BY_COUNT]


class _Standing:
    """The events of one docket that no reversal takes back, gathered into pieces and quantities."""

    def __init__(self, docket: Docket) -> None:
        about = Q(docket=docket) | Q(group_kind=GroupKind.DOCKET, group_id=docket.pk)
        every = list(Event.objects.filter(about, kind__in=MOVES))
        self.whole, self.single = _reversed({event.id for event in every})
        events = [event for event in every if event.id not in self.whole]
        self.carried: dict[int, Carried] = {}
        self.quantities: dict[int, Counter[str]] = defaultdict(Counter)
        # reports by type of which somebody has said since which piece it was: that piece stands for them
        self.bound = {event.data["bound"] for event in events if "bound" in event.data}
        self.presses = [e for e in events if e.group_kind == GroupKind.DOCKET and e.kind in ARRIVALS]
        crates = _crate_contents(events)
        about_pieces = [(event, piece) for event in events for piece in self._pieces(event, crates)]
        found = Piece.objects.select_related("type").in_bulk({piece for _, piece in about_pieces})
        for event, piece in about_pieces:
            self._note(event, found[piece])
        for event in events:
            self._note_quantity(event)
        self._note_presses()

    def _pieces(self, event: Event, crates: dict[int, set[int]]) -> Iterable[int]:
        if event.group_kind == GroupKind.CRATE and event.group_id is not None:
            listed = set(event.data["contents"]) if "contents" in event.data else crates[event.group_id]
            inside = listed | {event.group_id}
            return [piece for piece in inside if (event.id, piece) not in self.single]
        return [event.piece_id] if event.piece_id is not None else []

    def _note(self, event: Event, piece: Piece) -> None:
        one = self.carried.setdefault(piece.pk, Carried(piece))
        if event.kind == Kind.SENT:
            one.loaded = True
            one.in_crate = event.group_kind == GroupKind.CRATE and event.group_id != piece.pk
        else:
            one.arrived = True
            one.dirty = event.data.get("dirty", one.dirty)

    def _note_quantity(self, event: Event) -> None:
        if event.type_id is None or event.piece_id is not None or event.quantity is None:
            return
        if str(event.id) in self.bound:
            return
        arrived = "untagged" if event.data.get("untagged") else "arrived"
        self.quantities[event.type_id]["loaded" if event.kind == Kind.SENT else arrived] += event.quantity

    def _note_presses(self) -> None:
        """All of it received at one press: what was loaded arrived, save what was excepted."""
        for press in self.presses:
            for pk, one in self.carried.items():
                if one.loaded and (press.id, pk) not in self.single:
                    one.arrived = True
            for quantity in self.quantities.values():
                quantity["arrived"] = quantity["arrived"] or quantity["loaded"]


def _reversed(events: set[UUID]) -> tuple[set[UUID], set[tuple[UUID, int]]]:
    """(ids taken back, (id, piece) taken back for one piece), over reversals of reversals too."""
    reversals: list[Event] = []
    frontier = events
    while frontier:
        found = list(Event.objects.filter(kind=Kind.REVERSED, target__in=frontier))
        reversals += found
        frontier = {event.id for event in found}
    undone = taken_back(_plain(event) for event in reversals)
    standing = [event for event in reversals if event.id not in undone and event.target in events]
    kinds: dict[UUID | None, str] = dict(
        Event.objects.filter(pk__in={e.target for e in standing}).values_list("id", "group_kind")
    )
    single = {(e.target, e.piece_id) for e in standing if e.piece_id is not None and kinds[e.target]}
    whole = {e.target for e in standing if (e.target, e.piece_id) not in single}
    return whole, single  # type: ignore[return-value]


def _plain(event: Event) -> PlainEvent:
    return PlainEvent(event.id, Kind(event.kind), event.happened_at, target=event.target)


def _crate_contents(events: Iterable[Event]) -> dict[int, set[int]]:
    """What each crate is known to have held, for a press that did not say what was in it."""
    crates = {e.group_id for e in events if e.group_kind == GroupKind.CRATE and e.group_id is not None}
    inside: dict[int, set[int]] = {crate: set() for crate in crates}
    rows = GroupMember.objects.filter(group_kind=GroupKind.CRATE, group_id__in=crates)
    for crate, piece in rows.values_list("group_id", "piece_id"):
        inside[crate].add(piece)
    return inside


def last_scan(docket: Docket) -> Event | None:
    """The newest scan onto or off this docket that has not been taken back: what undo would undo."""
    recent = Event.objects.filter(docket=docket, kind__in=MOVES).exclude(group_kind=GroupKind.DOCKET)
    for event in recent.select_related("piece__type", "type").order_by("-recorded_at", "-seq", "-id")[:20]:
        if not Event.objects.filter(kind=Kind.REVERSED, target=event.id).exists():
            return event
    return None
