"""The pours a site lead has in hand: what stands in each, and what comes next."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.db.models import Count, F, Q, QuerySet

from inventory.lifecycle.kinds import Fitness, GroupKind, Kind, Phase
from inventory.models import Docket, Event, Piece
from inventory.models.gear import NEVER_SET
from jobs.models import Job, Panel, Pour

AHEAD = timedelta(days=4)
PRESSES = (Kind.CAST, Kind.CALLED_OFF, Kind.STRIPPED)
IN_IT = (Phase.SET, Phase.CAST, Phase.CALLED_OFF)


@dataclass
class Slab:
    """One pour as it stands. `next` is the press that follows: set, cast, strip, clean, up, or nothing more."""

    pour: Pour
    phases: Counter[str] = field(default_factory=Counter)
    dirty: int = 0
    unfit: int = 0
    cast_at: datetime | None = None
    below: list[Pour] = field(default_factory=list)
    dockets: list[Docket] = field(default_factory=list)
    upper: Pour | None = None

    @property
    def gear(self) -> int:
        return sum(self.phases.values())

    @property
    def next(self) -> str:
        if self.phases[Phase.SET]:
            return "cast"
        if self.phases[Phase.CAST] or self.phases[Phase.CALLED_OFF]:
            return "strip"
        if self.phases[Phase.STRIPPED]:
            return "clean" if self.dirty else ("up" if self.upper is not None else "")
        return "" if self.cast_at is not None else "set"

    @property
    def words(self) -> str:
        """How it stands, in a word."""
        if self.phases[Phase.SET]:
            return "set"
        if self.phases[Phase.CAST]:
            return "cast"
        if self.phases[Phase.CALLED_OFF]:
            return "called off"
        if self.phases[Phase.STRIPPED]:
            return "stripped, not cleaned" if self.dirty else "stripped and clean"
        return "done" if self.cast_at is not None else "not set"

    @property
    def figure_from(self) -> datetime | None:
        """When the engineer's figure kept with the job has passed since casting; not a permission to strip."""
        return self.cast_at + timedelta(hours=self.pour.job.cure_hours) if self.cast_at else None

    @property
    def panels(self) -> QuerySet[Panel]:
        return self.pour.panels.all()


def slabs(today: date) -> list[Slab]:
    """Pours of running jobs that still want a press, those up to a few days ahead, in order of casting."""
    running = Job.objects.filter(stage__in=[Job.Stage.ACCEPTED, Job.Stage.RUNNING])
    pours = Pour.objects.filter(job__in=running).select_related("job__site", "place").prefetch_related("panels")
    found = {pour.place_id: Slab(pour) for pour in pours.order_by("cast_on", "job", "name")}
    _count_gear(found)
    _last_casts(found)
    _ways_in(found)
    wanted = [slab for slab in found.values() if slab.next and (slab.gear or slab.pour.cast_on <= today + AHEAD)]
    return sorted(wanted, key=lambda slab: (slab.pour.cast_on, slab.pour.job_id))


def _count_gear(found: dict[int, Slab]) -> None:
    rows = (
        Piece.objects.held()
        .filter(pour__in=found)
        .order_by()
        .values_list("pour", "phase")
        .annotate(
            n=Count("pk"),
            dirty=Count("pk", Q(dirty=True)),
            unfit=Count("pk", Q(fitness=Fitness.UNFIT)),
        )
    )
    for pour, phase, number, dirty, unfit in rows:
        slab = found[pour]
        slab.phases[phase] += number
        slab.dirty += dirty
        slab.unfit += unfit


def _last_casts(found: dict[int, Slab]) -> None:
    presses = Event.objects.filter(group_kind=GroupKind.POUR, group_id__in=found, kind__in=PRESSES)
    reversals = Event.objects.filter(kind=Kind.REVERSED, target__in=presses.values("id"), piece=None)
    taken_back = set(reversals.values_list("target", flat=True))
    rows = presses.filter(kind=Kind.CAST).order_by("happened_at").values_list("id", "group_id", "happened_at")
    for pk, pour, when in rows:
        if pk not in taken_back and pour is not None:
            found[pour].cast_at = when


def _ways_in(found: dict[int, Slab]) -> None:
    """For a pour not yet set: the stripped pours of its job, and dockets with gear still lying on the site."""
    by_job: dict[int, list[Slab]] = defaultdict(list)
    for slab in found.values():
        by_job[slab.pour.job_id].append(slab)
    lying = _lying(slab.pour.job.site_id for slab in found.values())
    for some in by_job.values():
        stripped = [slab for slab in some if slab.phases[Phase.STRIPPED] and not any(slab.phases[p] for p in IN_IT)]
        empty = [slab for slab in some if not slab.gear and slab.cast_at is None]
        for slab in empty:
            slab.below = [lower.pour for lower in stripped]
            slab.dockets = lying[slab.pour.job.site_id]
        for lower in stripped:
            lower.upper = empty[0].pour if empty else None


def _lying(sites: Iterable[int]) -> dict[int, list[Docket]]:
    there = Piece.objects.held().filter(place=F("docket__to_place"), pour=None)
    pieces = there.exclude(type__kind__in=NEVER_SET)
    dockets = Docket.objects.filter(to_place__in=set(sites), pk__in=pieces.values("docket"))
    lying: dict[int, list[Docket]] = defaultdict(list)
    for docket in dockets:
        lying[docket.to_place_id].append(docket)
    return lying
