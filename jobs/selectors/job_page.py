"""What the page of a job shows: its pours with their days, its flags, what is on its site now."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, Q

from inventory.models import GearType, Piece
from jobs.models import Job, Panel, Pour
from jobs.planning.findings import Finding
from jobs.planning.pours import PourDays
from jobs.selectors.behind import Behind, left_behind
from jobs.selectors.cutlist import cut_list
from jobs.selectors.loads import LeftOff, left_off
from jobs.selectors.panels import reading_order
from jobs.selectors.planned import lengths_planned
from jobs.selectors.pours import Programme

# So many pours, and so many panels of one, the page of a job shows by itself; lists of their own have them all.
SHOWN_POURS, SHOWN_PANELS = 25, 12
# With more panels than this the page comes first and what is looked through panel by panel follows.
AT_ONCE = 400
SHOWN_FLAGS = 20


@dataclass(frozen=True)
class PourRow:
    """A pour with its days and its first panels; `cast_at` once the record says so."""

    pour: Pour
    days: PourDays
    panels: Sequence[Panel]
    count: int
    cast_at: datetime | None

    @property
    def more(self) -> int:
        """How many of its panels are left to the list of panels."""
        return self.count - len(self.panels)


@dataclass(frozen=True)
class Standing:
    """So many of a type on the site, and how many of them are dirty or unfit."""

    type: GearType
    count: int
    dirty: int
    unfit: int


@dataclass(frozen=True)
class LookedThrough:
    """What only a look at every panel tells: each flag with how often it stands there, and what no truck carries."""

    flags: Sequence[tuple[Finding, int]]
    left_off: Sequence[Behind | LeftOff]

    @property
    def first_flags(self) -> Sequence[tuple[Finding, int]]:
        return self.flags[:SHOWN_FLAGS]

    @property
    def more_flags(self) -> int:
        return len(self.flags) - len(self.first_flags)


def looked_through(job: Job, programme: Programme, today: date) -> LookedThrough:
    """The flags of a job, and what its trucks left without or no load list carries."""
    cut = cut_list(job, lengths_planned(job), programme=programme)
    lacking: list[Behind | LeftOff] = [*left_behind(job, programme), *left_off(job, cut, today, programme)]
    return LookedThrough(heaviest_first(cut.findings), lacking)


@dataclass(frozen=True)
class PanelCounts:
    """How many panels a job has, by pour too, and on which levels."""

    total: int
    by_pour: Mapping[int, int]
    levels: Sequence[int]


def panel_counts(job: Job) -> PanelCounts:
    by_pour: Counter[int] = Counter()
    levels = set()
    for pour, level, count in job.panels.order_by().values_list("pour", "level").annotate(Count("pk")):
        by_pour[pour] += count
        levels.add(level)
    return PanelCounts(by_pour.total(), by_pour, sorted(levels))


def pours_in_order(job: Job, programme: Programme) -> list[Pour]:
    """All pours of a job; those still to cast first, the next one first of all."""
    days, cast = programme.days, programme.cast
    return sorted(job.pours.all(), key=lambda pour: (pour.name in cast, days[pour.name].set, pour.cast_on, pour.name))


def pour_rows(pours: Sequence[Pour], programme: Programme, counts: PanelCounts) -> list[PourRow]:
    """Rows for these pours, in their order."""
    panels = _first_panels(pour.pk for pour in pours)
    days, cast = programme.days, programme.cast
    return [
        PourRow(pour, days[pour.name], panels[pour.pk], counts.by_pour.get(pour.pk, 0), cast.get(pour.name))
        for pour in pours
    ]


def _first_panels(pours: Iterable[int]) -> dict[int, list[Panel]]:
    """By pour, as many of its panels as a row shows."""
    found: dict[int, list[Panel]] = {pk: [] for pk in pours}
    panels = Panel.objects.filter(pour__in=found).only("mark", "pour_id")
    for panel in sorted(panels, key=lambda panel: reading_order(panel.mark)):
        if len(found[panel.pour_id]) < SHOWN_PANELS:
            found[panel.pour_id].append(panel)
    return found


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
