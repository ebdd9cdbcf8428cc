"""From a report to what it is about: tags as of when the scan happened, times, and what is missing or unknown."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from inventory.lifecycle.events import Event, Group
from inventory.lifecycle.kinds import GROUP_PRESSES, Fitness, GroupKind, Kind, PlaceKind, Seen
from inventory.lifecycle.state import State
from inventory.lifecycle.world import About, Places
from inventory.models import Docket, GearType, Place, Stocktake
from inventory.selectors.ledger import events_by_id, known_pieces, tagged
from inventory.selectors.messages import Questions
from inventory.selectors.pour_codes import gear_ready_for, pours_of
from inventory.services.reports import Report
from inventory.tags.code import compact

MOVES_TO_A_PLACE = frozenset({Kind.SET, Kind.RECEIVED, Kind.RETURNED})
GRADED = frozenset({Kind.FOUND_DAMAGED, Kind.INSPECTED})
GRADES = frozenset(grade.value for grade in Fitness)


class Problem(Exception):
    """Why a report cannot become an event. An unknown thing is kept for review when told; nonsense is refused."""

    def __init__(self, code: str, *, unmatched: bool = False) -> None:
        super().__init__(code)
        self.code, self.unmatched = code, unmatched


class Ends(NamedTuple):
    """Where a docket goes from and to, and how far it has got."""

    start: int
    end: int
    left: bool
    over: bool


@dataclass(frozen=True)
class Known:
    """Everything the reports name, read once for the whole batch; pieces with their cached state."""

    places: Places
    tags: dict[str, tuple[int, datetime | None]]
    pieces: dict[int, tuple[About, State]]
    dockets: dict[int, Ends]
    types: frozenset[int]
    targets: dict[UUID, Event]
    pours: dict[str, int]
    gear_ready: dict[int, tuple[Group, ...]]
    stocktakes: dict[int, bool] = field(default_factory=dict)
    """Those that are named; whether each is closed."""

    def is_crate(self, piece: int) -> bool:
        return piece in self.pieces and self.pieces[piece][0].is_crate

    def is_unfit(self, piece: int | None) -> bool:
        return piece is not None and piece in self.pieces and self.pieces[piece][1].fitness == Fitness.UNFIT


def tag_code(text: str) -> str:
    """A code as it is stored, from what was typed or from the address in a QR."""
    return compact(text.strip().rstrip("/").rsplit("/", 1)[-1])


def known_for(reports: Sequence[Report], questions: Questions) -> Callable[[], Known]:
    """What these reports name. What can be asked in one message is; the rest is asked when it is called for."""
    codes = {tag_code(r.tag) for r in reports if r.tag}
    pieces = {r.piece for r in reports if r.piece is not None}
    pieces |= {r.group.id for r in reports if r.group and r.group.kind == GroupKind.CRATE}
    pieces |= {r.data["crate"] for r in reports if isinstance(r.data.get("crate"), int)}
    dockets = {r.docket for r in reports if r.docket is not None}
    dockets |= {r.group.id for r in reports if r.group and r.group.kind == GroupKind.DOCKET}
    types = {r.type for r in reports if r.type is not None}
    world = questions.rows(Place.objects.world_sql())
    on_tags, given = tagged(codes, questions), known_pieces(pieces, questions)
    named, usual = _dockets(dockets, questions), questions.rows_of_all(_TYPES, types)

    def read() -> Known:
        tags, there = on_tags()
        pours = pours_of(codes - tags.keys())
        setting = {pours[tag_code(r.tag)] for r in reports if r.kind == Kind.SET and tag_code(r.tag or "") in pours}
        ready = {pour: gear_ready_for(pour) for pour in setting}
        return Known(
            Place.objects.world_of(world()),
            tags,
            there | given(),
            named() | _other_dockets(ready, dockets),
            frozenset(pk for (pk,) in usual()),
            _targets({r.target for r in reports if r.target is not None}),
            pours,
            ready,
            _stocktakes({pk for r in reports if isinstance(pk := r.data.get("stocktake"), int)}),
        )

    return read


_TYPES = f'SELECT "id" FROM "{GearType._meta.db_table}" WHERE "id" IN ({{}})'
_DOCKETS = (
    'SELECT "id", "from_place_id", "to_place_id", "left_at" IS NOT NULL, '
    f'"closed_at" IS NOT NULL OR "cancelled_at" IS NOT NULL FROM "{Docket._meta.db_table}" WHERE "id" IN ({{}})'
)


def _dockets(wanted: Collection[int], questions: Questions) -> Callable[[], dict[int, Ends]]:
    asked = questions.rows_of_all(_DOCKETS, wanted)
    return lambda: {pk: Ends(start, end, bool(left), bool(over)) for pk, start, end, left, over in asked()}


def _other_dockets(ready: Mapping[int, tuple[Group, ...]], had: Collection[int]) -> dict[int, Ends]:
    """Those that the gear of a whole pour came on."""
    wanted = {group.id for ways in ready.values() for group in ways if group.kind == GroupKind.DOCKET}
    questions = Questions()
    named = _dockets(wanted.difference(had), questions)
    questions.ask()
    return named()


def _stocktakes(wanted: set[int]) -> dict[int, bool]:
    rows = Stocktake.objects.filter(pk__in=wanted).order_by().values_list("pk", "closed_at") if wanted else ()
    return {pk: closed is not None for pk, closed in rows}


def _targets(ids: set[UUID]) -> dict[UUID, Event]:
    """The events taken back, and what those take back in turn."""
    found: dict[UUID, Event] = {}
    while ids:
        new = events_by_id(ids)
        found |= new
        ids = {e.target for e in new.values() if e.target is not None} - set(found)
    return found


def resolve(report: Report, known: Known, happened: datetime, device: str = "", seq: int = 0) -> Event:
    """The event that the report speaks of; or a Problem."""
    if report.kind == Kind.REVERSED:
        return replace(_reversal(report, known, happened), device=device, seq=seq)
    if report.kind == Kind.SETTLED:
        return _settlement(report, happened)
    piece, group = _subject(report, known, happened)
    if piece is None and group is None and report.type is None:
        raise Problem("says-nothing")
    if group is not None:
        _check_group(group, report, known)
    place = _place(report, piece, group, known)
    _check_rest(report, group, known)
    counted = piece is None and group is None
    return Event(
        id=report.id,
        kind=report.kind,
        happened=happened,
        device=device,
        seq=seq,
        piece=piece,
        group=group,
        type=report.type if counted else None,
        place=place,
        docket=report.docket,
        seen=Seen.BY_GROUP if group is not None else report.seen,
        quantity=report.quantity if counted else None,
        data=_data(report, known),
    )


def _data(report: Report, known: Known) -> dict[str, Any]:
    if report.from_docket and report.docket in known.dockets:
        return {**report.data, "from_place": known.dockets[report.docket].start}
    return dict(report.data)


def _subject(report: Report, known: Known, happened: datetime) -> tuple[int | None, Group | None]:
    piece, group = report.piece, report.group
    if report.tag and (pour := known.pours.get(tag_code(report.tag))) is not None:
        return None, _whole_pour(report, pour, known)
    if report.tag:
        piece = _tagged(report, known, happened)
    if piece is not None and group is not None:
        raise Problem("piece-and-group")
    if piece is not None and piece not in known.pieces:
        raise Problem("piece-unknown", unmatched=True)
    if piece is not None and known.is_crate(piece) and report.kind in GROUP_PRESSES[GroupKind.CRATE]:
        return None, Group(GroupKind.CRATE, piece)
    return piece, group


def _whole_pour(report: Report, pour: int, known: Known) -> Group:
    """What the code on a pour's paper stands for: the pour itself, or, when it is to be set, where its gear lies."""
    if report.kind != Kind.SET:
        return Group(GroupKind.POUR, pour)
    if report.docket is not None:
        return Group(GroupKind.DOCKET, report.docket)
    ways = known.gear_ready.get(pour, ())
    if len(ways) != 1:
        raise Problem("gear-from-where", unmatched=True)
    return ways[0]


def _tagged(report: Report, known: Known, happened: datetime) -> int:
    if (tag := known.tags.get(tag_code(report.tag))) is None:
        raise Problem("tag-unknown", unmatched=True)
    piece, fixed = tag
    if fixed is not None and fixed > happened:
        raise Problem("tag-not-fixed", unmatched=True)
    return piece


def _check_group(group: Group, report: Report, known: Known) -> None:
    if report.kind not in GROUP_PRESSES[group.kind]:
        raise Problem("kind-not-for-group")
    there = {
        GroupKind.POUR: known.places.kinds.get(group.id) == PlaceKind.POUR,
        GroupKind.CRATE: known.is_crate(group.id),
        GroupKind.DOCKET: group.id in known.dockets,
    }
    if not there[group.kind]:
        raise Problem("group-unknown", unmatched=True)


def _place(report: Report, piece: int | None, group: Group | None, known: Known) -> int | None:
    place = report.place
    if report.tag and report.kind == Kind.SET:
        place = known.pours.get(tag_code(report.tag), place)
    if place is None and report.kind in (Kind.RECEIVED, Kind.RETURNED):
        docket = group.id if group is not None and group.kind == GroupKind.DOCKET else report.docket
        place = known.dockets[docket].end if docket in known.dockets else None
    if place is None and group is not None and group.kind == GroupKind.POUR and report.kind == Kind.SET:
        place = group.id
    if place is None and report.kind in MOVES_TO_A_PLACE:
        raise Problem("place-missing")
    if place is not None and place not in known.places.kinds:
        raise Problem("place-unknown", unmatched=True)
    return place


def _check_rest(report: Report, group: Group | None, known: Known) -> None:
    on_docket = group is not None and group.kind == GroupKind.DOCKET
    if report.kind == Kind.SENT and report.docket is None and not on_docket:
        raise Problem("docket-missing")
    if report.docket is not None and report.docket not in known.dockets:
        raise Problem("docket-unknown", unmatched=True)
    if report.type is not None and report.type not in known.types:
        raise Problem("type-unknown", unmatched=True)
    grade = report.data.get("grade")
    if grade is None and report.kind in GRADED:
        raise Problem("grade-missing")
    if any(report.data.get(name, "sound") not in GRADES for name in ("grade", "condition")):
        raise Problem("grade-unknown")
    if report.piece is None and not report.tag and group is None and report.quantity is None:
        raise Problem("quantity-missing")
    if (stocktake := report.data.get("stocktake")) is not None and stocktake not in known.stocktakes:
        raise Problem("stocktake-unknown", unmatched=True)
    crate = report.data.get("crate")
    if crate is not None and not (isinstance(crate, int) and known.is_crate(crate)):
        raise Problem("group-unknown", unmatched=True)


def _reversal(report: Report, known: Known, happened: datetime) -> Event:
    """A reversal concerns what its target does; for one piece of a group press it names the piece."""
    if report.target is None:
        raise Problem("target-missing")
    piece = _tagged(report, known, happened) if report.tag else report.piece
    if piece is not None and piece not in known.pieces:
        raise Problem("piece-unknown", unmatched=True)
    event = Event(
        id=report.id,
        kind=Kind.REVERSED,
        happened=happened,
        piece=piece,
        group=None if piece is not None else report.group,
        seen=report.seen,
        target=report.target,
        data=dict(report.data),
    )
    target = known.targets.get(report.target)
    while target is not None and target.kind == Kind.REVERSED and _says_nothing(target) and target.target:
        target = known.targets.get(target.target)
    if target is None or not _says_nothing(event):
        return event
    return replace(event, piece=target.piece, group=target.group, type=target.type)


def _settlement(report: Report, happened: datetime) -> Event:
    """A person's word on a contradiction: about the report it names, recorded or not, and about no gear."""
    if report.target is None:
        raise Problem("target-missing")
    return Event(
        id=report.id,
        kind=Kind.SETTLED,
        happened=happened,
        seen=report.seen,
        target=report.target,
        data=dict(report.data),
    )


def _says_nothing(event: Event) -> bool:
    return event.piece is None and event.group is None and event.type is None
