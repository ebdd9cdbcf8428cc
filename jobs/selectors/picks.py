"""A truck's load list as a pick list: which tags, where they lie, which are on it by now, and what is lacking."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, Q, QuerySet, Sum

from inventory.lifecycle.kinds import Fitness, PlaceKind
from inventory.models import Awaited, CountedStock, GearType, Piece, Place, PlannedCut, RepairOrder
from inventory.selectors.dockets import sheet
from jobs.models import Delivery, Job, Pick
from jobs.planning.picking import Candidate, Spot
from jobs.selectors.pours import job_calendar
from jobs.selectors.stock import AT_A_YARD, back_on
from jobs.selectors.yards import far_from


@dataclass
class Picked:
    """One tag to fetch. `elsewhere` is the yard it must come across from first; `wrong` why it can no longer go."""

    piece: Piece
    loaded: bool = False
    elsewhere: Place | None = None
    wrong: str = ""


@dataclass(frozen=True)
class Held:
    """So many with another job, until the day its site gives them back; None while they are overdue or undated."""

    job: str
    count: int
    until: date | None


@dataclass
class PickLine:
    """One type on a pick list: wanted, the tags chosen, what was loaded instead, where counted goods lie; and of what
    is lacking, how many lie dirty or unfit in the yards, what is on order by when, what other jobs hold,
    and how many in the yards are chosen for which of their trucks."""

    type: GearType
    wanted: int
    picked: list[Picked] = field(default_factory=list)
    instead: list[Piece] = field(default_factory=list)
    goods: list[tuple[Place, int]] = field(default_factory=list)
    loaded: int = 0
    dirty: int = 0
    unfit: int = 0
    on_order: list[tuple[int, date]] = field(default_factory=list)
    held: list[Held] = field(default_factory=list)
    chosen: list[tuple[int, str, date]] = field(default_factory=list)

    @property
    def by_tag(self) -> bool:
        return self.type.tracked == GearType.Tracked.BY_TAG

    @property
    def lacking(self) -> int:
        """How many have no tag yet, beyond what was loaded in place of one chosen."""
        able = sum(not one.wrong or one.loaded for one in self.picked)
        return max(0, self.wanted - able - len(self.instead)) if self.by_tag else max(0, self.wanted - self.loaded)

    @property
    def done(self) -> bool:
        return self.loaded >= self.wanted


def pick_list(delivery: Delivery) -> list[PickLine]:
    """Every line of the load list, edge forms first. A tag chosen stays chosen until another is in its stead."""
    lines = {line.type_id: PickLine(line.type, line.quantity) for line in delivery.lines.select_related("type")}
    on_it = _loaded(delivery)
    picks = Piece.objects.filter(picks__delivery=delivery).select_related(
        "type", "place__parent", "docket", "crate__place__parent"
    )
    chosen = {piece.pk: piece for piece in picks.order_by("label")}
    for piece in chosen.values():
        if piece.type_id in lines:
            loaded = piece.pk in on_it.pieces
            lines[piece.type_id].picked.append(_picked(piece, loaded, delivery.job))
    extra = [pk for pk in on_it.pieces if pk not in chosen]
    for piece in Piece.objects.filter(pk__in=extra).select_related("type", "place__parent").order_by("label"):
        if piece.type_id in lines:
            lines[piece.type_id].instead.append(piece)
    for type_id, quantity in on_it.counts.items():
        if type_id in lines:
            lines[type_id].loaded = quantity
    _add_goods(lines, delivery.job)
    _add_what_may_come(lines)
    for line in lines.values():
        line.picked.sort(key=_walk)
    return sorted(lines.values(), key=lambda line: line.type.place_in_lists)


def whole_crates(lines: Iterable[PickLine]) -> list[tuple[Piece, int]]:
    """Crates of which everything is picked, with how many pieces: one scan of such a crate loads them all."""
    picked = Counter(
        one.piece.crate
        for line in lines
        for one in line.picked
        if one.piece.crate is not None and not one.loaded and not one.wrong and one.elsewhere is None
    )
    held = held_by_crates() if picked else Counter[int]()
    found = [(crate, count) for crate, count in picked.items() if crate is not None and held[crate.pk] == count]
    return sorted(found, key=lambda each: each[0].label)


def _walk(one: Picked) -> tuple[bool, bool, str, str, str]:
    """In the order of a walk: the job's own yard first, place by place, crate by crate; what is on the truck last."""
    piece = one.piece
    crate = piece.crate.label if piece.crate else ""
    return one.loaded, one.elsewhere is not None, str(piece.place or ""), crate, piece.label


@dataclass
class _Loaded:
    pieces: set[int] = field(default_factory=set)
    counts: Counter[int] = field(default_factory=Counter)


def _loaded(delivery: Delivery) -> _Loaded:
    if delivery.docket is None:
        return _Loaded()
    found = _Loaded()
    for line in sheet(delivery.docket).lines:
        found.counts[line.type.pk] = line.loaded
        found.pieces |= {one.piece.pk for one in line.pieces if one.loaded}
    return found


def _picked(piece: Piece, loaded: bool, job: Job) -> Picked:
    top = (piece.place.parent or piece.place) if piece.place else None
    elsewhere = top if top is not None and top.pk != job.yard_id and top.kind == PlaceKind.YARD else None
    return Picked(piece, loaded, None if loaded else elsewhere, "" if loaded else _wrong(piece))


def _wrong(piece: Piece) -> str:
    """Why a piece chosen earlier can no longer go; empty while it can."""
    if piece.fitness == Fitness.UNFIT:
        return "unfit"
    if piece.standing != "held":
        return piece.standing
    if piece.place is None or piece.place.kind not in AT_A_YARD:
        return f"now at {piece.place}" if piece.place else f"now on docket {piece.docket}"
    return "dirty" if piece.dirty else ""


def _add_goods(lines: dict[int, PickLine], job: Job) -> None:
    counted = [pk for pk, line in lines.items() if not line.by_tag]
    rows = (
        CountedStock.objects.filter(type__in=counted, quantity__gt=0, place__isnull=False)
        .filter(place__kind__in=AT_A_YARD)
        .exclude(condition=Fitness.UNFIT)
        .order_by()
        .values_list("type", "place")
        .annotate(n=Sum("quantity"))
    )
    listed = list(rows)
    places = Place.objects.in_bulk({place for _, place, _ in listed})
    far = far_from(job.yard_id) if listed else {}
    for type_id, place, quantity in sorted(listed, key=lambda row: far.get(_yard(places[row[1]]), len(far))):
        lines[type_id].goods.append((places[place], quantity))


def _add_what_may_come(lines: dict[int, PickLine]) -> None:
    short = [pk for pk, line in lines.items() if line.by_tag and line.lacking]
    here = Piece.objects.held().filter(type__in=short, place__kind__in=AT_A_YARD).order_by()
    unfit, dirty = Q(fitness=Fitness.UNFIT), Q(dirty=True)
    counts = here.values_list("type").annotate(dirty=Count("pk", dirty & ~unfit), unfit=Count("pk", unfit))
    for type_id, some, broken in counts:
        lines[type_id].dirty, lines[type_id].unfit = some, broken
    rows = Awaited.objects.open().filter(type__in=[pk for pk, line in lines.items() if line.lacking])
    for type_id, count, due in rows.order_by("due_on").values_list("type", "quantity", "due_on"):
        lines[type_id].on_order.append((count, due))


def _yard(place: Place) -> int:
    """The yard that a wash bay or a workshop is part of; a yard is its own."""
    return place.parent_id or place.pk


CANDIDATE = ("pk", "type", "place", "uses", "fitness", "crate")


def still_picked() -> QuerySet[Pick]:
    """Pieces given to trucks that have not left yet."""
    return Pick.objects.filter(delivery__job__stage__in=[Job.Stage.ACCEPTED, Job.Stage.RUNNING]).filter(
        Q(delivery__docket=None) | Q(delivery__docket__left_at=None)
    )


def meeting(delivery: Delivery, today: date) -> list[int]:
    """Trucks with tags of their own that hold them at the same time as this one would, its own job's among them. What
    is back and clean before another truck loads may stand on both lists."""
    others = list(
        Delivery.objects.filter(pk__in=still_picked().values("delivery")).exclude(pk=delivery.pk).select_related("job")
    )
    back = {
        job: back_on(job, today, job_calendar(job, today)) or date.max
        for job in {each.job for each in (delivery, *others)}
    }
    return [
        other.pk
        for other in others
        if other.job_id == delivery.job_id
        or (other.load_on < back[delivery.job] and delivery.load_on < back[other.job])
    ]


def candidates(types: Collection[int], delivery: Delivery, today: date) -> dict[int, list[Candidate]]:
    """Fit and clean pieces in our yards, their wash bays and workshops, by type; but for those that somebody mends and
    those given to a truck that holds them at the same time. `far` counts yards from the job's."""
    job, taken = delivery.job, Pick.objects.filter(delivery__in=[delivery.pk, *meeting(delivery, today)])
    pieces: QuerySet[Piece] = (
        Piece.objects.fit()
        .filter(type__in=types, dirty=False, place__kind__in=AT_A_YARD)
        .exclude(pk__in=taken.values("piece"))
        .exclude(planned_cuts__in=PlannedCut.objects.standing())
        .exclude(repairs__in=RepairOrder.objects.open())
    )
    if job.ends_on:
        pieces = pieces.exclude(hired_in__due_back__lte=job.ends_on)
    yards = far_from(job.yard_id)
    found: dict[int, list[Candidate]] = defaultdict(list)
    for pk, kind, place, uses, fitness, crate, parent in pieces.values_list(*CANDIDATE, "place__parent"):
        far, spot = yards.get(parent or place or 0, len(yards)), Spot(place or 0, crate or 0)
        found[kind].append(Candidate(pk, far, uses, fitness == Fitness.WATCH, spot))
    return found


def chosen_before(delivery: Delivery) -> dict[int, list[Candidate]]:
    """What the truck was given already, by type."""
    found: dict[int, list[Candidate]] = defaultdict(list)
    for pk, kind, place, uses, fitness, crate in Piece.objects.filter(picks__delivery=delivery).values_list(*CANDIDATE):
        found[kind].append(Candidate(pk, 0, uses, fitness == Fitness.WATCH, Spot(place or 0, crate or 0)))
    return found


def held_by_crates() -> Counter[int]:
    """How many pieces each crate holds."""
    return Counter(crate for crate in Piece.objects.held().values_list("crate", flat=True) if crate is not None)
