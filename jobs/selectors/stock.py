"""What a job can count on, day by day: lots in the yards, and what every other job has claimed.

Gear that is unfit, lost or in no yard or job counts as none; on a repair order, from the day it is to be ready. Dirty
gear, and gear in the wash bay or the workshop, is ready once it could be cleaned and inspected. Another yard's comes
after its transfer.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import accumulate
from types import MappingProxyType

from django.db.models import Count, Sum

from inventory.lifecycle.kinds import Fitness, PlaceKind, Standing
from inventory.models import Awaited, CountedStock, Docket, Piece, Place, PlannedCut, PlannedPart, RepairOrder
from jobs.calendars.working import WorkingCalendar
from jobs.models import Job, LoadLine
from jobs.planning.availability import Claim, Lead, Lot, Steps, on_hand
from jobs.selectors.chases import promised_back
from jobs.selectors.fit_first import still_wanted
from jobs.selectors.pours import days_of, job_calendar

AT_A_YARD = (PlaceKind.YARD, PlaceKind.WASH_BAY, PlaceKind.WORKSHOP)


@dataclass
class Whereabouts:
    """Fit gear by where it is: lots for the yards, counts held by each job (by its id), and the job's own."""

    lots: list[Lot] = field(default_factory=list)
    held: dict[int, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    own: Counter[str] = field(default_factory=Counter)


@dataclass(frozen=True, slots=True)
class _Heap:
    """So many alike: of one type, at one place or on one docket; `ready` by a day they are promised for."""

    code: str
    count: int
    place: int | None
    docket: int | None
    dirty: bool = False
    until: date | None = None
    ready: date | None = None
    broken: bool = False
    mended: bool = False


@dataclass(frozen=True, slots=True)
class Load:
    """So many of a type on a truck of a job's load list, out to its site or back early; `left` once it is gone."""

    job: Job
    code: str
    day: date
    count: int
    is_return: bool = False
    left: bool = False


# Load lists that would stand in place of those there are, by job.
Instead = Mapping[Job, Sequence[Load]]
AS_THEY_ARE: Instead = MappingProxyType({})


def stock_for(
    job: Job,
    codes: Collection[str],
    days: tuple[date, date],
    today: date,
    calendar: WorkingCalendar | None = None,
    used_up: Collection[str] = (),
    *,
    owed: bool = False,
    instead: Instead = AS_THEY_ARE,
) -> dict[str, Steps]:
    """Steps (day, count) for each type code over the half-open `days`: on hand at the job's site.

    What others hold or have reserved of the types `used_up` does not come back. With `owed`, below 0 where others have
    claimed more than there is; not of types that stand on the job's own site. As it would be with the load lists
    `instead` of those the jobs have.
    """
    calendar = calendar or job_calendar(job, today, *days)
    found = whereabouts(job, codes, today, calendar)
    steps = on_hand(
        found.lots,
        claims_of_others(job, codes, found, today, calendar, used_up, instead=instead),
        days,
        Lead(job.transport_days, job.turnround_days),
        calendar,
        owed_from=today if owed else None,
    )
    return {code: _with_own(steps.get(code, ()), found.own[code], days[0]) for code in codes}


def whereabouts(
    job: Job, codes: Collection[str], today: date, calendar: WorkingCalendar, only: int | None = None
) -> Whereabouts:
    """Where the gear is. With `only`, the id of a yard: what lies in it, is on its way to it, or is out on its jobs."""
    places = {place.pk: place for place in Place.objects.select_related("job")}
    sites = [place for place in places.values() if hasattr(place, "job")]
    jobs = {site.pk: site.job.pk for site in sites if only in {None, site.job.yard_id}}
    heaps = [*_tagged(codes, today), *_counted(codes)]
    dockets = Docket.objects.in_bulk({heap.docket for heap in heaps if heap.docket})
    found = Whereabouts()
    found.lots += [*_awaited(job, codes, today, calendar, only), *_planned_parts(job, codes, today, calendar, only)]
    for heap in heaps:
        docket = dockets.get(heap.docket or 0) if heap.place is None else None
        at = places.get(docket.to_place_id if docket else heap.place or 0)
        if at is None:
            continue
        top = places[at.parent_id] if at.parent_id else at
        holder = jobs.get(top.pk)
        if holder == job.pk:
            found.own[heap.code] += heap.count
        elif holder is not None:
            found.held[holder][heap.code] += heap.count
            found.lots.append(Lot(heap.code, heap.count, today, heap.until))
        elif top.kind in AT_A_YARD and only in {None, top.pk}:
            found.lots.append(_lot(job, heap, at, top, docket is not None, today, calendar))
    return found


def claims_of_others(
    job: Job,
    codes: Collection[str],
    found: Whereabouts,
    today: date,
    calendar: WorkingCalendar,
    used_up: Collection[str] = (),
    but: Collection[int] = (),
    instead: Instead = AS_THEY_ARE,
) -> list[Claim]:
    """One claim for each other job and type that it has reserved or holds, leaving out the jobs `but`."""
    by_job = claims_by_job(job, codes, found, today, calendar, used_up, but, instead)
    return [claim for _, claims in by_job for claim in claims]


def claims_by_job(
    job: Job,
    codes: Collection[str],
    found: Whereabouts,
    today: date,
    calendar: WorkingCalendar,
    used_up: Collection[str] = (),
    but: Collection[int] = (),
    instead: Instead = AS_THEY_ARE,
) -> list[tuple[Job, list[Claim]]]:
    """Every other job, but for those in `but`, with what it takes of each type."""
    loads = list(_loads(job, codes, instead))
    reserved, promises = _reserved(loads, calendar), promised_back(today)
    gone = _still_to_send(loads, used_up)
    others = Job.objects.filter(pk__in={*reserved, *found.held} - {*but}).prefetch_related("pours")
    found_by_job = []
    for other in others:
        claims: list[Claim] = []
        back = back_on(other, today, calendar)
        held = found.held.get(other.pk, Counter()).copy()
        steps = dict(reserved.get(other.pk, {}))
        for promise in promises.get(other.pk, ()):
            count = min(promise.count, held[promise.code])
            if count and (back is None or promise.day < back):
                clean = calendar.add(promise.day, other.transport_days + other.turnround_days)
                claims.append(Claim(promise.code, (), count, clean))
                held[promise.code] -= count
                # What it gives back it does not wait for either: until then the promise claims it.
                steps[promise.code] = tuple((day, max(0, n - count)) for day, n in steps.get(promise.code, ()))
        claims += [Claim(code, steps.get(code, ()), held[code], back) for code in {*steps, *held} - {*used_up}]
        claims += [_for_good(code, gone.get((other.pk, code), {}), held[code]) for code in used_up]
        found_by_job.append((other, claims))
    return found_by_job


def _loads(job: Job, codes: Collection[str], instead: Instead) -> Iterator[Load]:
    """The load lists of all jobs but this one."""
    lines = (
        LoadLine.objects.filter(delivery__job__stage__in=[Job.Stage.ACCEPTED, Job.Stage.RUNNING], type__code__in=codes)
        .exclude(delivery__job__in=[job, *instead])
        .select_related("type", "delivery__job", "delivery__docket")
    )
    for line in lines:
        truck = line.delivery
        left = truck.docket is not None and truck.docket.left_at is not None
        yield Load(truck.job, line.type.code, truck.load_on, line.quantity, truck.is_return, left)
    for other, loads in instead.items():
        if other != job:
            yield from (load for load in loads if load.code in codes)


def _still_to_send(loads: Iterable[Load], codes: Collection[str]) -> dict[tuple[int, str], dict[date, int]]:
    """What other jobs' trucks that have not left yet will take of goods that are used up, by load day."""
    found: dict[tuple[int, str], dict[date, int]] = defaultdict(dict)
    for load in loads:
        if load.code in codes and not load.is_return and not load.left:
            taken = found[load.job.pk, load.code]
            taken[load.day] = taken.get(load.day, 0) + load.count
    return found


def _for_good(code: str, leaving: dict[date, int], held: int) -> Claim:
    """Beside what it holds a job takes what is still to be sent, and none of it comes back."""
    days = sorted(leaving)
    steps = tuple(zip(days, (held + n for n in accumulate(leaving[day] for day in days)), strict=True))
    return Claim(code, steps, held, date.max)


def due_on(job: Job, calendar: WorkingCalendar) -> date | None:
    """The day its gear is due back: as agreed, else once its last pour is stripped and cleaned."""
    if job.ends_on:
        return job.ends_on
    return max((pour.free for pour in days_of(job, calendar).values()), default=None)


def back_on(job: Job, today: date, calendar: WorkingCalendar) -> date | None:
    """The day its gear is counted back and clean; None while it is overdue or nothing dates it."""
    due = due_on(job, calendar)
    if due is None or due < today:
        return None
    return calendar.add(due, job.transport_days + job.turnround_days)


def _reserved(loads: Iterable[Load], calendar: WorkingCalendar) -> dict[int, dict[str, Steps]]:
    """By job and type, the count in all from each delivery on, and from each planned return once it is clean."""
    changes: dict[tuple[int, str], Counter[date]] = defaultdict(Counter)
    for load in loads:
        change, holder = changes[load.job.pk, load.code], load.job
        if load.is_return:
            change[calendar.add(load.day, holder.transport_days + holder.turnround_days)] -= load.count
        else:
            change[load.day] += load.count
    found: dict[int, dict[str, Steps]] = defaultdict(dict)
    for (pk, code), change in changes.items():
        days = sorted(change)
        found[pk][code] = tuple(zip(days, (max(0, n) for n in accumulate(change[day] for day in days)), strict=True))
    return found


def _lot(job: Job, heap: _Heap, at: Place, top: Place, coming: bool, today: date, calendar: WorkingCalendar) -> Lot:
    """When gear in a yard, or on its way to one, is ready in the yard that sends this job's gear."""
    days = 0
    if coming:
        days += job.transport_days
    if coming or heap.dirty or at.kind != PlaceKind.YARD:
        days += job.turnround_days
    if top.kind == PlaceKind.YARD and top.pk != job.yard_id:
        days += job.transfer_days
    in_turn = calendar.add(today, days) if days else today
    promised = heap.ready or in_turn
    if heap.mended and top.kind == PlaceKind.YARD and top.pk != job.yard_id:
        promised = calendar.add(promised, job.transfer_days)
    return Lot(heap.code, heap.count, promised if heap.broken else min(in_turn, promised), heap.until)


def _tagged(codes: Collection[str], today: date) -> list[_Heap]:
    # What the workshop says by when holds, whatever day a job asked for.
    promised = {**_promised(codes, today), **_in_repair(codes, today)}
    pieces = (
        Piece.objects.fit()
        .filter(type__code__in=codes)
        .exclude(pk__in=promised)
        .exclude(planned_cuts__in=PlannedCut.objects.standing())
        .order_by()
        .values_list("type__code", "place", "docket", "dirty", "hired_in__due_back")
        .annotate(count=Count("pk"))
    )
    heaps = [_Heap(code, count, place, docket, dirty, due) for code, place, docket, dirty, due, count in pieces]
    return [*heaps, *promised.values()]


def _promised(codes: Collection[str], today: date) -> dict[int, _Heap]:
    """Pieces put first for a job, by id, each ready by the day it was put first for; past that day as any other."""
    wishes = still_wanted().filter(piece__type__code__in=codes, by_day__gte=today, piece__place__kind__in=AT_A_YARD)
    found: dict[int, _Heap] = {}
    for wish in wishes.select_related("piece__type", "piece__hired_in"):
        piece = wish.piece
        due = piece.hired_in.due_back if hasattr(piece, "hired_in") else None
        broken = piece.fitness == Fitness.UNFIT
        heap = _Heap(piece.type.code, 1, piece.place_id, piece.docket_id, True, due, wish.by_day, broken)
        found.setdefault(piece.pk, heap)
    return found


def _in_repair(codes: Collection[str], today: date) -> dict[int, _Heap]:
    """Pieces on an open repair order that says by when, by id; past that day an unfit one counts as none again."""
    orders = RepairOrder.objects.filter(
        done_at=None, given_up_at=None, ready_on__gte=today, piece__type__code__in=codes, piece__standing=Standing.HELD
    )
    return {
        order.piece_id: _Heap(
            order.piece.type.code,
            1,
            order.piece.place_id,
            order.piece.docket_id,
            until=order.piece.hired_in.due_back if hasattr(order.piece, "hired_in") else None,
            ready=order.ready_on,
            broken=True,
            mended=True,
        )
        for order in orders.select_related("piece__type", "piece__hired_in")
    }


def _counted(codes: Collection[str]) -> list[_Heap]:
    rows = (
        CountedStock.objects.filter(type__code__in=codes, quantity__gt=0)
        .exclude(condition=Fitness.UNFIT)
        .order_by()
        .values_list("type__code", "place", "docket")
        .annotate(count=Sum("quantity"))
    )
    return [_Heap(code, count, place, docket) for code, place, docket, count in rows]


def _awaited(
    job: Job, codes: Collection[str], today: date, calendar: WorkingCalendar, only: int | None = None
) -> list[Lot]:
    """Goods on order, from the day they are due; what is overdue counts as none until it is dated anew."""
    rows = Awaited.objects.open().filter(type__code__in=codes, due_on__gte=today)
    rows = rows.filter(place=only) if only else rows
    lots = []
    fields = ("type__code", "place", "quantity", "due_on", "leaves_on")
    for code, place, quantity, due, leaves in rows.values_list(*fields):
        ready = due if place == job.yard_id else calendar.add(due, job.transfer_days)
        lots.append(Lot(code, quantity, ready, leaves))
    return lots


def _planned_parts(
    job: Job, codes: Collection[str], today: date, calendar: WorkingCalendar, only: int | None = None
) -> list[Lot]:
    """Parts of lengths that are to be cut down, from the day they are ready; overdue ones count as none."""
    cuts = PlannedCut.objects.standing().filter(ready_on__gte=today)
    rows = PlannedPart.objects.filter(cut__in=cuts, type__code__in=codes)
    lots = []
    fields = ("type__code", "cut__ready_on", "cut__piece__place", "cut__piece__place__parent")
    for code, ready, place, parent in rows.values_list(*fields):
        yard = parent or place
        if only in {None, yard}:
            lots.append(Lot(code, 1, ready if yard == job.yard_id else calendar.add(ready, job.transfer_days)))
    return lots


def _with_own(steps: Steps, own: int, first: date) -> Steps:
    """What already stands on the job's own site is on hand throughout."""
    if not own:
        return steps
    return tuple((day, max(0, count) + own) for day, count in steps or ((first, 0),))
