"""The runs of an accepted job, as its plan composed them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from inventory.models import GearType
from jobs.models import Job, PlannedRun


def codes_planned(job: Job) -> dict[str, tuple[str, ...]]:
    """Type codes from the seat of each composed run, by its key; empty before a plan is accepted.

    A run whose side is no longer there is left out: it must be composed anew.
    """
    rows = PlannedRun.objects.filter(panel__job=job).order_by("panel", "side")
    listed = list(rows.values_list("panel__mark", "side", "pieces"))
    many = {mark for mark, side, _ in listed if side > 3}
    sides = {mark: len(sides) for mark, sides in job.panels.filter(mark__in=many).values_list("mark", "sides")}
    return {f"{mark}/{side + 1}": tuple(pieces) for mark, side, pieces in listed if side < max(4, sides.get(mark, 0))}


def lengths_of(codes: Mapping[str, Sequence[str]]) -> dict[str, list[int]]:
    """Lengths from the seat of each composed run; one with a type that has no length is left out."""
    lengths: dict[str, int] = {
        code: mm for code, mm in GearType.objects.exclude(length_mm=None).values_list("code", "length_mm") if mm
    }
    return {
        key: [lengths[code] for code in pieces]
        for key, pieces in codes.items()
        if all(code in lengths for code in pieces)
    }


def lengths_planned(job: Job) -> dict[str, list[int]]:
    """Lengths from the seat of each composed run, by its key; empty before a plan is accepted."""
    return lengths_of(codes_planned(job))
