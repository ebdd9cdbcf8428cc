"""One-line builders for jobs: a yard, a customer, a job, types of edge form, schedules. Fixed values."""

from __future__ import annotations

from datetime import UTC, date, datetime

from inventory.lifecycle.kinds import PlaceKind, Standing
from inventory.models import GearType, Piece, Place
from jobs.calendars.working import WorkingCalendar
from jobs.models import Customer, Job
from jobs.services.jobs import create_customer, create_job
from jobs.services.schedules import take_schedule

MONDAY = date(2027, 3, 1)
NOW = datetime(2027, 2, 1, 8, 0, tzinfo=UTC)


def yard(name: str = "North yard") -> Place:
    return Place.objects.get_or_create(name=name, kind=PlaceKind.YARD, parent=None)[0]


def customer(code: str = "C1") -> Customer:
    return Customer.objects.filter(code=code).first() or create_customer(code=code, name=f"Builder {code}")


def job(code: str = "J1", **settings) -> Job:
    settings.setdefault("starts_on", MONDAY)
    settings.setdefault("max_overrun_mm", 900)
    return create_job(code=code, name="Shed", customer=customer(), yard=yard(), now=NOW, **settings)


def form(length_mm: int, section_mm: int = 150, splayed: int = 1) -> GearType:
    code = f"E{section_mm}-{length_mm}-{splayed}"
    return GearType.objects.get_or_create(
        code=code,
        defaults={
            "name": f"Edge form {section_mm} x {length_mm}",
            "kind": GearType.Kind.EDGE_FORM,
            "section_mm": section_mm,
            "length_mm": length_mm,
            "splayed_ends": splayed,
            "mass_kg": 4,
            "clean_after_every_pour": True,
        },
    )[0]


def article(name: str, kind: str) -> GearType:
    tracked = GearType.Tracked.BY_COUNT if kind in {"bolt", "insert", "screw", "washer"} else GearType.Tracked.BY_TAG
    return GearType.objects.get_or_create(code=name.upper(), defaults={"name": name, "kind": kind, "tracked": tracked})[
        0
    ]


def pieces(kind: GearType, count: int, place: Place | None, **state) -> list[Piece]:
    """Pieces whose cached state is given outright: what is tested here reads that cache, not the ledger."""
    first = Piece.objects.count()
    rows = [Piece(type=kind, label=f"T{first + n}", place=place, standing=Standing.HELD, **state) for n in range(count)]
    return Piece.objects.bulk_create(rows)


def row(mark: str, width: int = 6000, height: int = 3000, **cells) -> dict[str, str]:
    base = {"mark": mark, "width": width, "height": height, "thickness": 150, "pour date": "2027-03-05"}
    base |= {name.replace("_", " "): value for name, value in cells.items()}
    return {name: str(value) for name, value in base.items()}


def job_with(*rows: dict[str, str], code: str = "J1", **settings) -> Job:
    made = job(code, **settings)
    heading = {name: "" for cells in rows for name in cells}
    take_schedule(job=made, rows=[heading | cells for cells in rows])
    return made


def later(day: date, working_days: int) -> date:
    """A working day of Monday to Friday, so many after `day`."""
    return WorkingCalendar().add(day, working_days)
