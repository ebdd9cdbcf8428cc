"""Gear that is not on hand yet but could be: dirty or broken in a yard, or held by another job that can be asked."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import F, Q

from inventory.lifecycle.kinds import Fitness, PlaceKind
from inventory.models import Docket, Piece, Place, PlannedCut
from jobs.calendars.working import WorkingCalendar
from jobs.models import Job
from jobs.planning.availability import Lead
from jobs.planning.remedies.chase import Held
from jobs.planning.remedies.clean_first import Waiting
from jobs.selectors.chases import promised_back
from jobs.selectors.fit_first import wanted_fit_first
from jobs.selectors.pours import days_of
from jobs.selectors.stock import AT_A_YARD, due_on, whereabouts

DUE_SOON = timedelta(days=14)
LONGEST_LOOK = timedelta(days=400)


@dataclass(frozen=True)
class Arrivals:
    """When gear that is ready in the job's yard on a day can first be used on its site."""

    job: Job
    today: date
    calendar: WorkingCalendar

    @property
    def lead(self) -> Lead:
        return Lead(self.job.transport_days, self.job.turnround_days)

    def on_site(self, ready: date) -> date:
        """The first day of use of what is ready in the yard on `ready`."""
        return self.calendar.add(ready, self.job.transport_days) if self.job.transport_days else ready

    def load_day(self, used: date) -> date:
        return self.lead.load_day(used, self.calendar)

    def after(self, days: int, start: date | None = None) -> date:
        """The day so many working days after today."""
        return self.calendar.add(start or self.today, days) if days else start or self.today

    def hired(self, lead_days: int, first: date, last: date) -> tuple[date, date]:
        """The half-open days on which what is hired in is ours, for uses from `first`, or as soon after as the supplier
        can, to `last`: from the day it is loaded until it is back with all that the job holds."""
        start = max(first, self.on_site(self.after(lead_days)))
        due = due_on(self.job, self.calendar) or last
        with_all = self.after(self.job.transport_days + self.job.turnround_days, due)
        return self.load_day(start), max(with_all, self.lead.back_day(max(start, last), self.calendar))

    def last_use(self, leaves: date) -> date:
        """The first day on which gear that must be back and clean by `leaves` can no longer be used."""
        day = leaves
        while self.lead.back_day(day - timedelta(days=1), self.calendar) > leaves:
            day -= timedelta(days=1)
        return day


def waiting_pieces(arrivals: Arrivals, codes: Collection[str]) -> list[Waiting]:
    """Dirty and broken pieces in our yards, or on a truck to one, that no other job has put first."""
    places = {place.pk: place for place in Place.objects.all()}
    wanted = wanted_fit_first()
    pieces = (
        Piece.objects.held()
        .filter(type__code__in=codes)
        .exclude(fitness__in=[Fitness.SOUND, Fitness.WATCH], dirty=False)
        .exclude(planned_cuts__in=PlannedCut.objects.standing())
        .select_related("type", "hired_in", "docket")
    )
    found = []
    for piece in pieces:
        if piece.pk in wanted and wanted[piece.pk].job != arrivals.job:
            continue
        promised = wanted[piece.pk].by_day if piece.pk in wanted else None
        at = places.get(_where(piece) or 0)
        top = places[at.parent_id] if at is not None and at.parent_id else at
        if at is not None and top is not None and top.kind in AT_A_YARD:
            found.append(_waiting(arrivals, piece, top, promised))
    return found


def _where(piece: Piece) -> int | None:
    docket: Docket | None = piece.docket
    return docket.to_place_id if piece.place_id is None and docket else piece.place_id


def _waiting(arrivals: Arrivals, piece: Piece, top: Place, promised: date | None) -> Waiting:
    """Ready sooner when it goes first; in its turn, or by the day it is promised, as the stock over time has it."""
    job, coming = arrivals.job, piece.place_id is None
    travel = job.transport_days * coming
    if top.kind == PlaceKind.YARD and top.pk != job.yard_id:
        travel += job.transfer_days
    broken = piece.fitness == Fitness.UNFIT
    work = job.mend_first_days if broken else job.clean_first_days
    until = None if broken else arrivals.on_site(arrivals.after(travel + job.turnround_days))
    if promised is not None and promised >= arrivals.today:
        until = min(arrivals.on_site(promised), until or date.max)
    leaves = piece.hired_in.due_back if hasattr(piece, "hired_in") else None
    if leaves is not None:
        until = min(arrivals.last_use(leaves), until or date.max)
    start = arrivals.on_site(arrivals.after(travel + work))
    return Waiting(piece.label, piece.type.code, "mend" if broken else "clean", start, until)


def held_by_others(arrivals: Arrivals, codes: Collection[str]) -> list[Held]:
    """Gear on other jobs that is overdue, not dated, or due within two weeks; named by the job's code.

    What a site has promised back already is on hand from then, so it is not to be had a second time.
    """
    job, today, calendar = arrivals.job, arrivals.today, arrivals.calendar
    held = whereabouts(job, codes, today, calendar).held
    promises = promised_back(today)
    others = Job.objects.filter(pk__in=held).prefetch_related("pours").order_by("code")
    tags = _tags_on(others, codes, {tag for mine in promises.values() for one in mine for tag in one.tags})
    for holder, mine in promises.items():
        for one in mine:
            held[holder][one.code] -= one.count
    return [line for other in others for line in _held(arrivals, other, held[other.pk], tags)]


def _tags_on(
    others: Iterable[Job], codes: Collection[str], promised: Collection[str]
) -> dict[tuple[int, str], list[str]]:
    """Labels of fit pieces on the sites of jobs, by job and type, but for those promised; those in no pour first."""
    sites = {other.site_id: other.pk for other in others}
    found: dict[tuple[int, str], list[str]] = defaultdict(list)
    pieces = Piece.objects.fit().filter(Q(place__in=sites) | Q(place__parent__in=sites), type__code__in=codes)
    rows = pieces.order_by(F("pour").asc(nulls_first=True), "label")
    for place, parent, code, label in rows.values_list("place", "place__parent", "type__code", "label"):
        if label not in promised:
            found[sites.get(place or 0) or sites[parent or 0], code].append(label)
    return found


def _held(
    arrivals: Arrivals, other: Job, counts: Mapping[str, int], tags: Mapping[tuple[int, str], Sequence[str]]
) -> Iterator[Held]:
    calendar, today = arrivals.calendar, arrivals.today
    due = due_on(other, calendar)
    if due is not None and due > today + DUE_SOON:
        return
    way_back = other.transport_days + other.turnround_days
    last_held = max((pour.free for pour in days_of(other, calendar).values()), default=today)
    start = arrivals.on_site(arrivals.after(way_back, max(today, last_held)))
    until = None
    if due is not None and due >= today:
        until = arrivals.on_site(arrivals.after(way_back, due))
    for code, count in sorted(Counter(counts).items()):
        if count > 0:
            yield Held(other.code, code, count, start, until, tuple(tags.get((other.pk, code), ())[:count]))
