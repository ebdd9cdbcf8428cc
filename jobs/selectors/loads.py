"""What rides on which truck of a job beside the edge forms, and what a load list leaves off."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.models import GearType
from jobs.calendars.working import WorkingCalendar
from jobs.models import Job, LoadLine
from jobs.planning.goods import deliveries, level
from jobs.selectors.articles import type_for
from jobs.selectors.cutlist import CutList
from jobs.selectors.goods import Goods, goods_for, needs_of
from jobs.selectors.plans import Plan, held_steps
from jobs.selectors.pours import Programme, job_calendar, programme_of
from jobs.selectors.stock import AS_THEY_ARE, Instead, Load

Loads = dict[date, Counter[str]]


def load_day(used: date, job: Job, calendar: WorkingCalendar) -> date:
    """The day on which gear used on `used` is loaded."""
    return min(used, calendar.add(used, -job.transport_days)) if job.transport_days else used


def article_loads(
    job: Job,
    cut: CutList,
    trucks: Collection[date],
    calendar: WorkingCalendar,
    today: date,
    instead: Instead = AS_THEY_ARE,
) -> Loads:
    """By load day, how many of each type beside the edge forms: on the last truck that is still in time and finds
    them in the yard.

    What comes back is sent as it is first needed; what is used up, truck by truck. Spares go with what they are
    for. Where no truck will do, a day of its own. An article of no one type is left off: `left_off` says so.
    """
    found: Loads = defaultdict(Counter)
    for goods in goods_for(job, cut, today, instead=instead):
        sent = 0
        for day, count in deliveries(goods.need) if goods.type else ():
            at, sent = load_day(day, job, calendar), sent + count
            there = [truck for truck in trucks if truck <= at and _there(goods, truck, day, job, calendar) >= sent]
            if goods.type is not None:
                found[max(there, default=at)][goods.type.code] += count
    return found


def form_loads(plan: Plan, job: Job, calendar: WorkingCalendar) -> tuple[Loads, Loads]:
    """What goes out of edge forms and what comes back early, by the day it is loaded."""
    out: Loads = defaultdict(Counter)
    back: Loads = defaultdict(Counter)
    for code, steps in held_steps(plan).items():
        level = 0
        for day, count in steps:
            if count > level:
                out[load_day(day, job, calendar)][code] += count - level
            else:
                back[day][code] += level - count
            level = count
    return out, back


def all_loads(
    plan: Plan, job: Job, calendar: WorkingCalendar, today: date, instead: Instead = AS_THEY_ARE
) -> tuple[Loads, Loads]:
    """Every truck of a plan, out and back early, with everything on it, as other load lists `instead` leave it."""
    out, back = form_loads(plan, job, calendar)
    for day, counts in article_loads(job, plan.cut_list(), set(out), calendar, today, instead).items():
        out[day] += counts
    return out, back


def load_list(plan: Plan, job: Job, today: date, instead: Instead = AS_THEY_ARE) -> list[Load]:
    """The same as the rows of a load list."""
    out, back = all_loads(plan, job, job_calendar(job), today, instead)
    return [
        Load(job, code, day, count, is_return)
        for loads, is_return in ((out, False), (back, True))
        for day, counts in loads.items()
        for code, count in counts.items()
    ]


@dataclass(frozen=True)
class Truck:
    """What is loaded on one day, by type; back to the yard where `is_return`."""

    load_on: date
    is_return: bool
    lines: tuple[tuple[GearType, int], ...]

    @property
    def mass_kg(self) -> Decimal:
        return sum((kind.mass_kg * count for kind, count in self.lines), Decimal(0))


def trucks_of(plan: Plan, job: Job, today: date) -> list[Truck]:
    """The load list of a plan, delivery by delivery."""
    out, back = all_loads(plan, job, job_calendar(job), today)
    codes = {code for counts in (*out.values(), *back.values()) for code in counts}
    types = {kind.code: kind for kind in GearType.objects.filter(code__in=codes)}
    trucks = [
        Truck(day, is_return, _in_order((types[code], count) for code, count in counts.items() if count))
        for loads, is_return in ((out, False), (back, True))
        for day, counts in loads.items()
    ]
    return sorted(trucks, key=lambda truck: (truck.load_on, truck.is_return))


def _in_order(lines: Iterable[tuple[GearType, int]]) -> tuple[tuple[GearType, int], ...]:
    return tuple(sorted(lines, key=lambda line: line[0].place_in_lists))


def _there(goods: Goods, truck: date, used: date, job: Job, calendar: WorkingCalendar) -> int:
    """How many can be on site from that truck's coming until they are used."""
    arrives = calendar.add(truck, job.transport_days)
    known = max(arrives, goods.stock[0][0]) if goods.stock else arrives
    return min(level(goods.stock, day) for day in (known, *(d for d, _ in goods.stock if known < d <= used)))


@dataclass(frozen=True)
class LeftOff:
    """An article that no truck of the job carries. `type` is None while no one type of the catalogue fits."""

    what: str
    type: GearType | None
    count: int
    alike: int

    @property
    def sentence(self) -> str:
        if self.type is not None:
            return f"{self.count} x {self.type.name} stand on no load list yet."
        if self.alike:
            why = f"the catalogue has {self.alike} types of it: choose one in its take-off rule"
        else:
            why = "the catalogue has no type of it: enter one, or switch its take-off rule off"
        return f"{self.count} x {self.what} stand on no load list: {why}."


def left_off(job: Job, cut: CutList, today: date, programme: Programme | None = None) -> list[LeftOff]:
    """What the rules count for pours to come and no truck carries, once the job is accepted."""
    if job.stage not in {Job.Stage.ACCEPTED, Job.Stage.RUNNING}:
        return []
    carried = set(LoadLine.objects.filter(delivery__job=job, delivery__is_return=False).values_list("type", flat=True))
    found = []
    for need in needs_of(job, cut, today, programme or programme_of(job)):
        kind = type_for(need.what, need.by_type, cut.types)
        if kind is None or kind.pk not in carried:
            alike = sum(one.kind == need.what for one in cut.types) if kind is None else 1
            found.append(LeftOff(need.what, kind, need.send, alike))
    return found
