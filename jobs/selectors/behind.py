"""What trucks of a job left without: wanted on their load lists, and by now on no truck that is still to come."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from inventory.models import Docket, GearType
from inventory.selectors.dockets import sheet
from jobs.models import Delivery, Job, LoadLine
from jobs.selectors.pours import Programme, programme_of


@dataclass(frozen=True)
class Behind:
    """So many of one line of a load list that the truck left without."""

    line: LoadLine
    count: int

    @property
    def delivery(self) -> Delivery:
        return self.line.delivery

    @property
    def type(self) -> GearType:
        return self.line.type

    @property
    def sentence(self) -> str:
        return f"{self.count} x {self.type.name} did not go with {self.delivery.docket}."


def left_behind(job: Job, programme: Programme | None = None) -> list[Behind]:
    """Line by line, while a pour is still to come; what another truck to the same site brought beyond its own list
    makes up for it."""
    if job.stage not in {Job.Stage.ACCEPTED, Job.Stage.RUNNING}:
        return []
    programme = programme or programme_of(job)
    if programme.days and programme.days.keys() <= set(programme.cast):
        return []
    lines = list(
        LoadLine.objects.filter(delivery__job=job, delivery__is_return=False, delivery__docket__left_at__isnull=False)
        .select_related("type", "delivery__docket")
        .order_by("-delivery__load_on", "-delivery", "type__code")
    )
    return list(_short(job, lines)) if lines else []


def _short(job: Job, lines: list[LoadLine]) -> Iterator[Behind]:
    """The newest trucks first, since what lacks in all is theirs last to bring."""
    gone = Docket.objects.filter(to_place=job.site_id, left_at__isnull=False, cancelled_at=None)
    by_docket = {docket.pk: {row.type.pk: row.loaded for row in sheet(docket).lines} for docket in gone}
    lacking: Counter[int] = Counter()
    for line in lines:
        lacking[line.type_id] += line.quantity
    for loaded in by_docket.values():
        lacking.subtract(loaded)
    for line in lines:
        short = line.quantity - by_docket.get(line.delivery.docket_id or 0, {}).get(line.type_id, 0)
        count = min(short, lacking[line.type_id])
        if count > 0:
            lacking[line.type_id] -= count
            yield Behind(line, count)
