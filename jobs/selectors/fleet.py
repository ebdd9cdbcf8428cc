"""All jobs under way on one stock, for the programme: bars, levels by type, days that break, what if, and slack."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from inventory.models import GearType, Place
from jobs.calendars.working import WorkingCalendar
from jobs.models import Job
from jobs.planning.fleet import (
    Break,
    Fleet,
    Level,
    Slack,
    Taking,
    breaks,
    does_not_come,
    fails,
    levels,
    returns,
    run_late,
    slack_of,
)
from jobs.selectors.asked import Asked, asked_for
from jobs.selectors.pours import days_of, working_calendar
from jobs.selectors.stock import claims_by_job, due_on, whereabouts

AHEAD = timedelta(days=120)
SHOWN = (Job.Stage.ASKED, Job.Stage.ACCEPTED, Job.Stage.RUNNING)


@dataclass(frozen=True)
class Bar:
    """One job on the calendar: its pours on [start, free), and the day its gear is due back."""

    job: Job
    start: date
    free: date
    due: date | None
    pours: tuple[tuple[str, date, date], ...]
    overdue: bool

    @property
    def until(self) -> date:
        return max(self.free, self.due) if self.due else self.free


@dataclass(frozen=True)
class Programme:
    """Everything the programme page stands on, as it is today."""

    today: date
    until: date
    calendar: WorkingCalendar
    bars: tuple[Bar, ...]
    fleet: Fleet
    types: Mapping[str, GearType]
    found: tuple[Break, ...] = field(default=())
    yard: Place | None = None
    asked: Asked | None = None


def programme(today: date, yard: Place | None = None, *, with_asked: bool = False) -> Programme:
    """All jobs, or those that one yard supplies, on its stock alone. What is taken is what jobs have reserved or hold;
    `with_asked` also what those only asked for would, as they were last checked."""
    rows = Job.objects.filter(stage__in=SHOWN, **({"yard": yard} if yard else {}))
    jobs = list(rows.select_related("customer").prefetch_related("pours"))
    days = [day for job in jobs for day in (job.starts_on, job.ends_on or job.starts_on)]
    calendar = working_calendar([today, today + AHEAD, *days])
    bars = tuple(sorted((_bar(job, today, calendar) for job in jobs), key=lambda bar: (bar.start, bar.job.code)))
    until = max([today + AHEAD, *(bar.until for bar in bars)]) + timedelta(days=30)
    types = {kind.code: kind for kind in GearType.objects.exclude(kind=GearType.Kind.CRATE)}
    fleet = fleet_on(today, calendar, types, yard)
    asked = asked_for(today, yard) if with_asked else None
    if asked is not None:
        fleet = replace(fleet, takings=(*fleet.takings, *asked.takings))
    return Programme(today, until, calendar, bars, fleet, types, tuple(breaks(fleet, today, until)), yard, asked)


def fleet_on(today: date, calendar: WorkingCalendar, types: Mapping[str, GearType], yard: Place | None = None) -> Fleet:
    """What there is and what every job under way takes: of one yard with its jobs, or of all yards taken together, as
    if gear moved between them at once. What a job of this yard was lent by another comes back to this one."""
    only = yard.pk if yard else None
    nobody = Job(pk=-1, yard=yard, transport_days=0, transfer_days=0, turnround_days=_turnround())
    used_up = [code for code, kind in types.items() if kind.used_up]
    found = whereabouts(nobody, list(types), today, calendar, only)
    others = Job.objects.exclude(yard=only).values_list("pk", flat=True) if only else ()
    claims = claims_by_job(nobody, list(types), found, today, calendar, used_up, set(others))
    takings = tuple(Taking(job.code, claim) for job, own in claims for claim in own if claim.held or claim.reserved)
    return Fleet(tuple(found.lots), takings)


def _turnround() -> int:
    """The days to count and clean that a new job starts with: what lies dirty in a yard is ready then."""
    return int(Job._meta.get_field("turnround_days").default)


def _bar(job: Job, today: date, calendar: WorkingCalendar) -> Bar:
    days = days_of(job, calendar)
    pours = tuple(sorted(((name, one.set, one.free) for name, one in days.items()), key=lambda pour: pour[1]))
    due = due_on(job, calendar)
    start = min([job.starts_on, *(first for _, first, _ in pours)])
    free = max([job.starts_on, *(end for _, _, end in pours)])
    overdue = job.stage == Job.Stage.RUNNING and due is not None and due < today
    return Bar(job, start, free, due, pours, overdue)


@dataclass(frozen=True)
class WhatIf:
    """One thing that may go wrong, as it is asked."""

    job: Job | None = None
    late: int = 0
    not_back: tuple[str, date] | None = None
    type: GearType | None = None
    fail: int = 0

    @property
    def words(self) -> str:
        parts = []
        if self.job and self.late:
            parts.append(f"{self.job.code} runs {self.late} working day{'s' if self.late > 1 else ''} late")
        if self.not_back:
            parts.append(f"the return of {self.not_back[0]} on {self.not_back[1]:%d %b %Y} does not come")
        if self.type and self.fail:
            parts.append(f"{self.fail} x {self.type.name} fail today")
        return "; ".join(parts)


def supposed(found: Programme, what: WhatIf) -> Fleet:
    """The fleet if that happens. Nothing is written."""
    fleet = found.fleet
    if what.job and what.late:
        fleet = run_late(fleet, what.job.code, what.late, found.calendar)
    if what.not_back:
        fleet = does_not_come(fleet, *what.not_back)
    if what.type and what.fail:
        fleet = fails(fleet, what.type.code, what.fail, found.today)
    return fleet


def new_breaks(found: Programme, fleet: Fleet) -> list[tuple[Break, int]]:
    """Breaks of a supposed fleet that are not there now, or are worse, each with how many it lacks more than now."""
    now: dict[str, list[Break]] = {}
    for one in found.found:
        now.setdefault(one.code, []).append(one)
    worse = []
    for one in breaks(fleet, found.today, found.until):
        had = [old for old in now.get(one.code, ()) if old.first < one.until and one.first < old.until]
        lacked = max((old.lack for old in had), default=0)
        longer = not had or one.first < min(old.first for old in had) or one.until > max(old.until for old in had)
        if one.lack > lacked or longer:
            worse.append((one, one.lack - lacked))
    return worse


@dataclass(frozen=True)
class TypeRow:
    """One type: its greatest use against the stock (`most`), the tightest day, and whether a day breaks."""

    type: GearType
    most: Level
    tightest: Level
    levels: tuple[Level, ...]

    @property
    def breaks(self) -> bool:
        return self.tightest.over < 0


def type_rows(found: Programme, fleet: Fleet) -> list[TypeRow]:
    """Types that jobs take, those that break first, then the thinnest."""
    rows = []
    for code, steps in levels(fleet, found.today, found.until).items():
        most = max(steps, key=lambda level: level.taken)
        if code in found.types and most.taken:
            tightest = min(steps, key=lambda level: level.over)
            rows.append(TypeRow(found.types[code], most, tightest, tuple(steps)))
    return sorted(rows, key=lambda row: (not row.breaks, row.tightest.over, row.type.code))


def slacks(found: Programme) -> list[Slack]:
    """Every return still expected, with how late it may be; those with least to spare first."""
    each = [slack_of(back, found.fleet, found.until) for back in returns(found.fleet, found.today - timedelta(days=1))]
    return sorted(each, key=lambda slack: (slack.slip is None, slack.slip or 0, slack.back.day))


def section_levels(rows: Sequence[TypeRow], section_mm: int) -> list[tuple[date, int, int]]:
    """(day, mm taken, mm there) of a section's edge forms on every day that a type of it changes."""
    own = [row for row in rows if row.type.kind == GearType.Kind.EDGE_FORM and row.type.section_mm == section_mm]
    days = sorted({level.day for row in own for level in row.levels})
    found = []
    for day in days:
        now = [([lv for lv in row.levels if lv.day <= day][-1], row.type.length_mm or 0) for row in own]
        found.append((day, sum(lv.taken * mm for lv, mm in now), sum(lv.there * mm for lv, mm in now)))
    return found
