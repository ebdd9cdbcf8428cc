"""The days of a job's pours from the working calendar, and which of them have been cast."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from inventory.lifecycle.kinds import GroupKind, Kind
from inventory.models import Event, ReviewItem, YardSettings
from jobs.calendars.regions import public_holidays
from jobs.calendars.working import WorkingCalendar
from jobs.models import Job, Panel, Pour
from jobs.planning.pours import PourDays, PourTimes, pour_days


@dataclass(frozen=True)
class Programme:
    """The days of a job's pours by name, the calendar they come from, and when those that are cast were."""

    calendar: WorkingCalendar
    days: Mapping[str, PourDays]
    cast: Mapping[str, datetime]


CAST = (Kind.CAST, Kind.STRIPPED)


def working_calendar(days: Iterable[date], settings: YardSettings | None = None) -> WorkingCalendar:
    """The yard's calendar, with the public holidays of the years that these days touch and of those beside them."""
    known = [day.year for day in days]
    settings = settings or YardSettings.current()
    region = "-".join(part for part in (settings.holiday_country, settings.holiday_region) if part)
    years = range(min(known) - 1, max(known) + 3) if known else []
    return WorkingCalendar(settings.working_days, frozenset(public_holidays(region, years)))


def job_calendar(job: Job, *more: date, pours: Iterable[Pour] | None = None) -> WorkingCalendar:
    casts = [pour.cast_on for pour in (job.pours.all() if pours is None else pours)]
    ends = [job.ends_on] if job.ends_on else []
    return working_calendar([job.starts_on, *ends, *casts, *more])


def pour_times(job: Job) -> PourTimes:
    return PourTimes(
        set_days=job.set_days_before_cast,
        cure_hours=job.cure_hours,
        strip_days=job.strip_days,
        set_again_same_day=job.reset_same_day,
    )


def programme_of(job: Job, pours: Sequence[Pour] | None = None) -> Programme:
    """`pours` are the job's, where they are read already."""
    pours = list(job.pours.all()) if pours is None else pours
    calendar = job_calendar(job, pours=pours)
    return Programme(calendar, days_of(job, calendar, pours), cast_pours(job, pours))


def days_of(
    job: Job, calendar: WorkingCalendar | None = None, pours: Iterable[Pour] | None = None
) -> dict[str, PourDays]:
    """Set, cast, strip and free of each pour, by name; what was given by hand stands. `pours` are the job's, where
    they are read already."""
    pours = list(job.pours.all()) if pours is None else pours
    calendar = calendar or job_calendar(job, pours=pours)
    times = pour_times(job)
    return {pour.name: pour_days_given(pour, times, calendar) for pour in pours}


def pour_days_given(pour: Pour, times: PourTimes, calendar: WorkingCalendar) -> PourDays:
    worked_out = pour_days(pour.cast_on, times, calendar)
    return replace(worked_out, set=pour.set_on or worked_out.set, free=pour.free_on or worked_out.free)


def cast_pours(job: Job, pours: Iterable[Pour] | None = None) -> dict[str, datetime]:
    """When each pour that the record says is cast (or stripped) was; what was taken back does not count."""
    presses = Event.objects.filter(group_kind=GroupKind.POUR, group_id__in=job.pours.values("place"), kind__in=CAST)
    reversals = Event.objects.filter(kind=Kind.REVERSED, target__in=presses.values("id"), piece=None)
    taken_back = set(reversals.values_list("target", flat=True))
    names = {pour.place_id: pour.name for pour in (job.pours.all() if pours is None else pours)}
    cast: dict[str, datetime] = {}
    for pk, place, when in presses.order_by("happened_at").values_list("id", "group_id", "happened_at"):
        if pk not in taken_back and place is not None:
            cast.setdefault(names[place], when)
    return cast


def panels_without_inserts(job: Job, cast: Mapping[str, datetime]) -> set[str]:
    """Marks of panels that were cast before the panel above them was thought of."""
    if not cast:
        return set()
    below: dict[str, Panel] = {}
    found: set[str] = set()
    for panel in job.panels.select_related("pour").order_by("stack", "level"):
        lower = below.get(panel.stack)
        if lower is not None and lower.pour.name in cast and cast[lower.pour.name] < panel.added_at:
            found.add(lower.mark)
        below[panel.stack] = panel
    return found


def movable(job: Job, calendar: WorkingCalendar, today: date) -> list[str]:
    """Pours that are neither cast nor set yet, by name."""
    cast = cast_pours(job)
    return [name for name, days in days_of(job, calendar).items() if name not in cast and days.set > today]


def cast_uncleaned(job: Job) -> dict[str, list[str]]:
    """By pour, the tags of the pieces that the record has as cast again with no cleaning since their last cast."""
    names = {pour.place_id: pour.name for pour in job.pours.all()}
    items = ReviewItem.objects.open().filter(
        code="cast-uncleaned", event__group_kind=GroupKind.POUR, event__group_id__in=names
    )
    found: dict[str, list[str]] = {}
    for place, label in items.order_by("piece__label").values_list("event__group_id", "piece__label"):
        if place is not None and label:
            found.setdefault(names[place], []).append(label)
    return found
