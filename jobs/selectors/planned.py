"""The runs of an accepted job, as its plan composed them."""

from __future__ import annotations

from inventory.models import GearType
from jobs.models import Job, PlannedRun


def lengths_planned(job: Job) -> dict[str, list[int]]:
    """Lengths from the seat of each composed run, by its key; empty before a plan is accepted.

    A run whose side has changed since is left out: it must be composed anew.
    """
    rows = PlannedRun.objects.filter(panel__job=job).select_related("panel")
    lengths: dict[str, int] = {
        code: mm for code, mm in GearType.objects.exclude(length_mm=None).values_list("code", "length_mm") if mm
    }
    return {
        f"{row.panel.mark}/{row.side + 1}": [lengths[code] for code in row.pieces]
        for row in rows
        if row.side < max(4, len(row.panel.sides)) and all(code in lengths for code in row.pieces)
    }
