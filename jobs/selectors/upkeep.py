"""What to clean and mend first: what the next loads wait for, then what has waited longest; and at what pace."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from django.db.models import (
    Case,
    CharField,
    Count,
    DateField,
    F,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Coalesce
from django.utils import timezone

from inventory.figures.queueing import Checked, Wait, check_sums, wait
from inventory.lifecycle.kinds import GroupKind
from inventory.models import LotMonth, Piece, Place, RepairOrder, ReviewItem, YardSettings
from inventory.selectors.periods import month_end
from jobs.models import FitFirst, Job, Pour
from jobs.selectors.pours import working_calendar
from jobs.selectors.wanted_clean import Wanted, wanted_clean

PACE_MONTHS = 3
"""The pace is measured over this month and the two before it."""


def _asked() -> QuerySet[FitFirst]:
    """The jobs that wait for just this piece, the soonest load first."""
    return FitFirst.objects.exclude(job__stage__in=[Job.Stage.DECLINED, Job.Stage.BACK]).order_by("by_day", "id")


def _wanted(piece: str) -> QuerySet[FitFirst]:
    return _asked().filter(piece=OuterRef(piece))


def wanted() -> dict[int, Wanted]:
    """By piece, the day and the job it is wanted clean for: by the next loads that its yard's clean pieces do not fill,
    unless a plan asks for just this piece."""
    found = wanted_clean()
    for pk, by_day, job in reversed(_asked().values_list("piece", "by_day", "job__code")):
        found[pk] = Wanted(by_day, job)
    return found


def dirty_queue() -> QuerySet[Piece]:
    """Dirty pieces with the day and the job they are wanted for (empty if none) and since when they are dirty.

    What belongs to each is read for those that are shown: joined, thousands of them would be sorted with it.
    """
    groups: dict[Wanted, list[int]] = defaultdict(list)
    for pk, each in wanted().items():
        groups[each].append(pk)
    days = Case(*(When(pk__in=pks, then=Value(w.by_day)) for w, pks in groups.items()), output_field=DateField())
    jobs = Case(*(When(pk__in=pks, then=Value(w.job)) for w, pks in groups.items()), output_field=CharField())
    return (
        Piece.objects.dirty()
        .annotate(wanted_on=days, wanted_for=jobs, dirty_since=Coalesce("life__dirty_since", "since"))
        .prefetch_related("type", "place__parent", "docket")
    )


def repair_queue() -> QuerySet[RepairOrder]:
    """Repair orders with the day and the job the piece is wanted for."""
    wanted = _wanted("piece")
    return RepairOrder.objects.annotate(
        wanted_on=Subquery(wanted.values("by_day")[:1]), wanted_for=Subquery(wanted.values("job__code")[:1])
    ).select_related("piece__type", "piece__place__parent", "place")


def unfit_without_order() -> QuerySet[Piece]:
    """Unfit pieces that nobody has opened a repair for, nor finished one that waits for its inspection."""
    underway = RepairOrder.objects.filter(given_up_at=None, inspected_at=None).order_by()
    wanted = _wanted("pk")
    return (
        Piece.objects.unfit()
        .exclude(pk__in=underway.values("piece"))
        .annotate(wanted_on=Subquery(wanted.values("by_day")[:1]), wanted_for=Subquery(wanted.values("job__code")[:1]))
        .select_related("type", "place__parent")
    )


@dataclass(frozen=True, slots=True)
class PlaceQueue:
    """Dirty gear of one yard or site: how much, how much of it a load waits for, and how long cleaning would take."""

    place: int
    name: str
    wait: Wait
    wanted: int
    first_wanted: date | None
    cleaned: int
    days_worked: int
    law: Checked


def queues(today: date, settings: YardSettings | None = None) -> list[PlaceQueue]:
    """By yard and site, the one whose load is soonest first; what is on the road belongs to none yet."""
    here = Piece.objects.dirty().exclude(place=None).order_by()
    counts = dict(here.values_list("place").annotate(n=Count("pk")))
    loads, days = wanted(), defaultdict[int, list[date]](list)
    for pk, place in here.filter(pk__in=loads).values_list("pk", "place"):
        days[place].append(loads[pk].by_day)
    dirty, waited, names = Counter[int](), defaultdict[int, list[date]](list), dict[int, str]()
    for where in Place.objects.filter(pk__in=counts).select_related("parent"):
        root = where.parent or where
        names[root.pk] = root.name
        dirty[root.pk] += counts[where.pk]
        waited[root.pk] += days[where.pk]
    cleaned, worked = _pace(today, settings)
    kept = laws(months_back(today, PACE_MONTHS - 1), timezone.now())
    found = [
        PlaceQueue(
            pk,
            names[pk],
            wait(n, cleaned[pk], worked),
            len(waited[pk]),
            min(waited[pk], default=None),
            cleaned[pk],
            worked,
            kept[pk],
        )
        for pk, n in dirty.items()
    ]
    return sorted(found, key=lambda q: (q.first_wanted or date.max, -q.wait.waiting, q.name))


def _pace(today: date, settings: YardSettings | None) -> tuple[Counter[int], int]:
    """Pieces cleaned by place since the first of the month two months back, and the working days of that time."""
    first = months_back(today, PACE_MONTHS - 1)
    rows = (
        LotMonth.objects.filter(month__gte=first, cleans__gt=0)
        .order_by()
        .values_list("place")
        .annotate(n=Sum("cleans"))
    )
    return Counter(dict(rows)), working_calendar([first, today], settings).count(first, today)


def laws(first: date, until: datetime) -> dict[int, Checked]:
    """Little's law held against the same months, by place: when each piece became dirty there and when it was clean.

    As piece-days are had from the months of lots: who was there at the window's start is there for all of it, who came
    in a month of it from then to that month's end and on, and who left is taken off likewise.
    """
    since = timezone.make_aware(datetime.combine(first, time()))
    window, found = until - since.astimezone(UTC), dict[int, Checked]()
    for place, months in _soiled(until).items():
        before = sum(s.more for month, s in months.items() if month < first)
        within = {month: s for month, s in months.items() if month >= first}
        present = before * window + sum((s.to_its_end + s.more * s.rest for s in within.values()), timedelta())
        came, left = sum(s.came for s in within.values()), sum(s.left for s in within.values())
        stayed = sum((s.stayed for s in within.values()), timedelta())
        found[place] = check_sums(present, came, stayed, left, window)
    return defaultdict(lambda: check_sums(timedelta(), 0, timedelta(), 0, window), found)


@dataclass(frozen=True, slots=True)
class _Soiled:
    """Of one month at one place: pieces that became dirty and that left the queue, the time of those from then to the
    month's end less of these, how long these had stayed, and from the month's end to now (below 0 in this month)."""

    came: int
    left: int
    to_its_end: timedelta
    stayed: timedelta
    rest: timedelta

    @property
    def more(self) -> int:
        return self.came - self.left


def _soiled(until: datetime) -> dict[int, dict[date, _Soiled]]:
    rows = LotMonth.objects.filter(Q(soiled__gt=0) | Q(shed__gt=0)).order_by().values_list("place", "month")
    sums = rows.annotate(Sum("soiled"), Sum("shed"), us=Sum(F("soiled_us") - F("shed_us")), stayed=Sum("stayed_us"))
    found: dict[int, dict[date, _Soiled]] = defaultdict(dict)
    for place, month, came, left, us, stayed in sums:
        rest = until - month_end(month)
        found[place][month] = _Soiled(
            came, left, timedelta(microseconds=int(us)), timedelta(microseconds=int(stayed)), rest
        )
    return found


def months_back(day: date, months: int) -> date:
    """The first of the month so many months before.

    >>> months_back(date(2026, 1, 15), 2)
    datetime.date(2025, 11, 1)
    """
    number = day.year * 12 + day.month - 1 - months
    return date(number // 12, number % 12 + 1, 1)


@dataclass(frozen=True, slots=True)
class CastUncleaned:
    """Forms that went into a second pour uncleaned: which pour, which job, how many, when; still to be settled."""

    pour: Pour | None
    place: Place
    pieces: int
    when: datetime


def cast_uncleaned() -> list[CastUncleaned]:
    """Open findings of that kind by pour, the newest first."""
    items = ReviewItem.objects.open().filter(code="cast-uncleaned").select_related("event__place")
    heaps: dict[int, list[datetime]] = {}
    for item in items[:2000]:
        event = item.event
        if event is None:
            continue
        at = event.group_id if event.group_kind == GroupKind.POUR else event.place_id
        if at is not None:
            heaps.setdefault(at, []).append(event.happened_at)
    pours = {pour.place_id: pour for pour in Pour.objects.filter(place__in=heaps).select_related("job")}
    places = Place.objects.select_related("parent").in_bulk(heaps)
    found = [
        CastUncleaned(pours.get(pk), places[pk], len(when), max(when)) for pk, when in heaps.items() if pk in places
    ]
    return sorted(found, key=lambda each: each.when, reverse=True)


@dataclass(frozen=True, slots=True)
class TurnRound:
    """Repairs finished in the last 180 days: how many, and the mean and the longest time from opening to done."""

    count: int
    mean: timedelta | None
    longest: timedelta | None


def turn_round(now: datetime) -> TurnRound:
    done = RepairOrder.objects.filter(done_at__gte=now - timedelta(days=180)).order_by()
    took = [end - start for start, end in done.values_list("opened_at", "done_at") if end is not None]
    return TurnRound(len(took), sum(took, timedelta()) / len(took) if took else None, max(took, default=None))
