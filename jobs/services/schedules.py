"""A panel schedule into a job: seen first, with every faulty cell, and written only when taken.

The same file taken twice changes nothing. Panels that the file does not name stay as they are.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.utils import timezone

from inventory.lifecycle.kinds import PlaceKind
from inventory.models import Place
from inventory.services.tagging import tag_of_place
from jobs.errors import Refused
from jobs.models import Job, Panel, Pour
from jobs.planning.cells import CellFinding
from jobs.planning.findings import pour_words
from jobs.planning.panels import Panel as Planned
from jobs.planning.schedule import Schedule, parse_schedule
from jobs.selectors.panels import changed_fields, stored_fields
from jobs.selectors.pours import cast_pours
from jobs.services.inserts import keep_inserts
from jobs.services.schedule_files import Rows


@dataclass(frozen=True)
class Preview:
    """What taking a schedule would do. Marks in `new`, `changed`, `same`; pours in `new_pours`, `moved_pours`."""

    rows: Rows
    findings: tuple[CellFinding, ...]
    new: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    untouched: int = 0
    new_pours: tuple[str, ...] = ()
    moved_pours: tuple[str, ...] = ()

    @property
    def can_be_taken(self) -> bool:
        return not self.findings and bool(self.new or self.changed or self.same)

    @property
    def changes_something(self) -> bool:
        return bool(self.new or self.changed or self.moved_pours or self.new_pours)


def preview_schedule(*, job: Job, rows: Rows) -> Preview:
    return _preview(job, rows, parse_schedule(rows))


@transaction.atomic
def take_schedule(*, job: Job, rows: Rows) -> Preview:
    """Panels and pours of the schedule, written. Raises Refused ("faulty-rows"); then nothing is written."""
    job = Job.objects.select_for_update().get(pk=job.pk)
    keep_inserts(job)
    schedule = parse_schedule(rows)
    preview = _preview(job, rows, schedule)
    if not preview.can_be_taken:
        raise Refused("faulty-rows", f"{len(preview.findings)} cells are faulty: correct them and bring the file anew.")
    pours = _write_pours(job, schedule)
    _write_panels(job, schedule.panels, pours)
    return preview


def _preview(job: Job, rows: Rows, schedule: Schedule) -> Preview:
    stored = {panel.mark: panel for panel in job.panels.select_related("pour")}
    dates = dict(job.pours.values_list("name", "cast_on"))
    new: list[str] = []
    changed: list[str] = []
    same: list[str] = []
    for panel in schedule.panels:
        known = stored.get(panel.mark)
        kept = new if known is None else changed if _differs(known, panel) else same
        kept.append(panel.mark)
    moved = [pour for pour, day in schedule.casts.items() if pour in dates and dates[pour] != day]
    findings = [
        *schedule.findings,
        *_undated(schedule, dates),
        *_doubled_levels(schedule, stored.values()),
        *_already_cast(job, schedule, stored, changed, moved),
    ]
    return Preview(
        rows,
        tuple(sorted(findings)),
        tuple(new),
        tuple(changed),
        tuple(same),
        len(stored.keys() - {panel.mark for panel in schedule.panels}),
        tuple(sorted({panel.pour for panel in schedule.panels if panel.pour} - dates.keys())),
        tuple(moved),
    )


def _differs(stored: Panel, panel: Planned) -> bool:
    return stored.pour.name != panel.pour or bool(changed_fields(stored, stored_fields(panel)))


def _undated(schedule: Schedule, dates: dict[str, date]) -> list[CellFinding]:
    known = dates.keys() | schedule.casts.keys()
    return [
        CellFinding(
            schedule.lines[panel.mark],
            "pour date",
            f"Panel {panel.mark} is in no pour that has a date.",
            "Give its pour date, such as 2027-03-05.",
        )
        for panel in schedule.panels
        if panel.pour not in known
    ]


def _doubled_levels(schedule: Schedule, stored: Collection[Panel]) -> list[CellFinding]:
    named = {panel.mark for panel in schedule.panels}
    taken = {(row.stack, row.level): row.mark for row in stored if row.mark not in named}
    found = []
    for panel in schedule.panels:
        first = taken.setdefault((panel.stack_name, panel.level), panel.mark)
        if first != panel.mark:
            wrong = f"Level {panel.level} of stack {panel.stack_name} already holds panel {first}."
            found.append(CellFinding(schedule.lines[panel.mark], "level", wrong, "Give it another level or stack."))
    return found


def _already_cast(
    job: Job, schedule: Schedule, stored: dict[str, Panel], changed: Sequence[str], moved: Sequence[str]
) -> list[CellFinding]:
    """What has been cast is what happened: a schedule cannot change it."""
    cast = cast_pours(job)
    found = [
        CellFinding(
            schedule.lines[mark],
            "mark",
            f"Panel {mark} has been cast, and this row would change it.",
            "Give it as it was cast, or leave the row out.",
        )
        for mark in changed
        if stored[mark].pour.name in cast
    ]
    return found + [
        CellFinding(1, "pour date", f"{pour_words(pour)} has been cast on another day.", "Give its day as it was.")
        for pour in moved
        if pour in cast
    ]


def _write_pours(job: Job, schedule: Schedule) -> dict[str, Pour]:
    pours = {pour.name: pour for pour in job.pours.all()}
    for name in dict.fromkeys(panel.pour for panel in schedule.panels):
        day = schedule.casts.get(name)
        if name not in pours and day is not None:
            pours[name] = _new_pour(job, name, day)
        elif day is not None and pours[name].cast_on != day:
            pours[name].cast_on, pours[name].set_on, pours[name].free_on = day, None, None
            pours[name].save(update_fields=["cast_on", "set_on", "free_on"])
    return pours


def _new_pour(job: Job, name: str, day: date) -> Pour:
    place = Place.objects.create(name=name, kind=PlaceKind.POUR, parent=job.site)
    tag_of_place(place, timezone.now())  # the code of its paper
    return Pour.objects.create(job=job, name=name, place=place, cast_on=day)


def _write_panels(job: Job, panels: Sequence[Planned], pours: dict[str, Pour]) -> None:
    """Changed panels first leave their levels, so that two may change places."""
    stored = {panel.mark: panel for panel in job.panels.select_related("pour")}
    changing = [panel for panel in panels if panel.mark in stored and _differs(stored[panel.mark], panel)]
    for number, panel in enumerate(changing, start=1):
        Panel.objects.filter(pk=stored[panel.mark].pk).update(stack=f"\N{MIDDLE DOT}moving {number}")
    for panel in changing:
        row = stored[panel.mark]
        row.pour = pours[panel.pour]
        for name, value in stored_fields(panel).items():
            setattr(row, name, value)
        row.save()
    Panel.objects.bulk_create(
        Panel(job=job, pour=pours[panel.pour], mark=panel.mark, **stored_fields(panel))
        for panel in panels
        if panel.mark not in stored
    )
