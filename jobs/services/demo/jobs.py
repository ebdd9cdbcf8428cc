"""Six customers and nine jobs, all invented: three past, three running (one overdue), two asked for, and one accepted
for half a year on, whose brackets are more than the yards own."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from inventory.models import Docket, GearType, Place
from jobs.models import Customer, Delivery, Job, LoadLine
from jobs.services.jobs import change_job, create_customer, create_job
from jobs.services.schedules import take_schedule

CUSTOMERS = (
    ("C-01", "Nowhere Panels"),
    ("C-02", "Example Builders"),
    ("C-03", "Made-up Walls"),
    ("C-04", "Imaginary Sheds"),
    ("C-05", "Paper Barns"),
    ("C-06", "Pretend Precast"),
)


_WIDE = ((7200, 3600), (6000, 3600), (4800, 3600))
_LONG = ((9000, 3200), (6200, 3200), (5200, 3200))


@dataclass(frozen=True)
class Plot:
    """One job as the demo tells it. Days count from today; `casts` are its pours, one a level on the same stacks."""

    code: str
    name: str
    customer: str
    south: bool
    starts: int
    ends: int
    section: int = 0
    panels: tuple[tuple[int, int], ...] = ()
    casts: tuple[int, ...] = ()
    twist: str = ""
    reserved: tuple[tuple[str, int], ...] = ()
    """What its truck is to bring, of a job that is accepted before its panels are known."""


PLOTS = (
    Plot("J-101", "Cold store", "C-01", False, -88, -60, 150, _WIDE, (-82, -75, -68), "late phone"),
    Plot(
        "J-102", "Depot wall", "C-02", False, -80, -52, 175, ((8000, 3000), (5500, 3000)), (-74, -66, -59), "called off"
    ),
    Plot("J-103", "School hall", "C-03", True, -64, -36, 200, ((6500, 4200), (4000, 4200)), (-57, -48), "lost"),
    Plot("J-104", "Grain barn", "C-05", False, -33, 14, 150, _LONG, (-27, -18, -9, 0)),
    Plot("J-105", "Paint shop", "C-04", False, -27, -4, 125, ((5000, 2800), (4500, 2800)), (-21, -14), "overdue"),
    Plot("J-106", "Boat shed", "C-06", True, -10, 26, 150, ((6000, 3000), (3900, 3000)), (-5, 1, 8)),
    Plot("J-107", "Row of units", "C-01", False, 12, 44),
    Plot("J-108", "Long warehouse", "C-02", False, 15, 50),
    Plot("J-109", "Harbour sheds", "C-03", True, 170, 214, reserved=(("FB-1", 260), ("SB-1", 260), ("SP-1", 40))),
)


def working(day: date) -> date:
    """That day, or the Monday after it."""
    return day + timedelta(days=max(0, 7 - day.weekday()) if day.weekday() >= 5 else 0)


def make_customers() -> dict[str, Customer]:
    return {
        code: create_customer(code=code, name=name, contact="Nobody in particular", email=f"{code}@example.test")
        for code, name in CUSTOMERS
    }


def make_job(plot: Plot, customer: Customer, yard: Place, today: date, now: datetime) -> Job:
    job = create_job(
        code=plot.code,
        name=plot.name,
        customer=customer,
        yard=yard,
        starts_on=working(today + timedelta(days=plot.starts)),
        ends_on=working(today + timedelta(days=plot.ends)),
        site_name=f"{plot.name} site",
        site_address="2 Nowhere Road, Example Town",
        now=now,
    )
    if plot.panels:
        take_schedule(job=job, rows=schedule_rows(plot, today))
        job.panels.update(added_at=now)  # else they would seem to be added above levels cast long ago
    if plot.panels or plot.reserved:
        change_job(job=job, stage=Job.Stage.ACCEPTED, accepted_at=now)
    if plot.reserved:
        reserve(job, Counter({GearType.objects.get(code=code).pk: count for code, count in plot.reserved}))
    return job


def reserve(job: Job, wanted: Counter[int], docket: Docket | None = None) -> None:
    """One truck with so many of each type, on the day of its docket or the day the job begins."""
    load_on = job.starts_on if docket is None else docket.planned_on or docket.opened_at.date()
    delivery = Delivery.objects.create(job=job, load_on=load_on, docket=docket)
    LoadLine.objects.bulk_create(LoadLine(delivery=delivery, type_id=t, quantity=n) for t, n in wanted.items())


def cast_days(plot: Plot, today: date) -> list[date]:
    return [working(today + timedelta(days=days)) for days in plot.casts]


def schedule_rows(plot: Plot, today: date) -> list[dict[str, str]]:
    rows = []
    for level, day in enumerate(cast_days(plot, today), start=1):
        for stack, (width, height) in enumerate(plot.panels, start=1):
            rows.append(
                {
                    "mark": f"{chr(64 + stack)}{level}",
                    "width": str(width - 200 * (level - 1)),
                    "height": str(height),
                    "thickness": str(plot.section),
                    "stack": f"S{stack}",
                    "level": str(level),
                    "pour date": day.isoformat(),
                    "pour": f"Pour {level}",
                }
            )
    return rows
