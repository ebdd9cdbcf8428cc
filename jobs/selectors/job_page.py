"""What the page of a job shows: its pours with their days, its flags, what is on its site now."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Q

from inventory.models import GearType, Piece
from jobs.models import Job, Panel, Pour
from jobs.planning.findings import Finding
from jobs.planning.pours import PourDays
from jobs.selectors.pours import Programme


@dataclass(frozen=True)
class PourRow:
    """A pour with its days and its panels; `cast_at` once the record says so."""

    pour: Pour
    days: PourDays
    panels: Sequence[Panel]
    cast_at: datetime | None


@dataclass(frozen=True)
class Standing:
    """So many of a type on the site, and how many of them are dirty or unfit."""

    type: GearType
    count: int
    dirty: int
    unfit: int


def pour_rows(job: Job, programme: Programme) -> list[PourRow]:
    days, cast = programme.days, programme.cast
    pours = job.pours.prefetch_related("panels")
    return [PourRow(pour, days[pour.name], list(pour.panels.all()), cast.get(pour.name)) for pour in pours]


def next_pour(rows: Sequence[PourRow]) -> PourRow | None:
    """The first that is not cast yet."""
    waiting = [row for row in rows if row.cast_at is None]
    return min(waiting, key=lambda row: row.days.set, default=None)


def on_site(job: Job) -> list[Standing]:
    """Tagged gear on the site and in its pours, by type."""
    rows = (
        Piece.objects.held()
        .within(job.site)
        .order_by()
        .values("type")
        .annotate(count=Count("pk"), dirty=Count("pk", Q(dirty=True)), unfit=Count("pk", Q(fitness="unfit")))
    )
    types = GearType.objects.in_bulk([row["type"] for row in rows])
    found = [Standing(types[row["type"]], row["count"], row["dirty"], row["unfit"]) for row in rows]
    return sorted(found, key=lambda row: (row.type.kind, row.type.section_mm or 0, row.type.length_mm or 0))


def heaviest_first(findings: Sequence[Finding]) -> list[tuple[Finding, int]]:
    """Each finding once, with how often it stands there, those that stop a plan first."""
    weights = {"refuse": 0, "warn": 1, "note": 2}
    counts = Counter(findings)
    return sorted(counts.items(), key=lambda item: weights[item[0].weight])
