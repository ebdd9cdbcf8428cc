"""What the code on a pour's paper stands for, and where the gear of a whole pour can come from."""

from __future__ import annotations

from collections.abc import Collection

from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import GroupKind, Phase
from inventory.models import Piece, Place, Tag
from inventory.models.gear import NEVER_SET


def pours_of(codes: Collection[str]) -> dict[str, int]:
    """The place of each code that stands for one. Asks nothing where there are no codes."""
    if not codes:
        return {}
    rows = Tag.objects.filter(code__in=codes, place__isnull=False).order_by()
    return {code: place for code, place in rows.values_list("code", "place_id") if place is not None}


def gear_ready_for(pour: int) -> tuple[Group, ...]:
    """Where a whole pour's gear can come from: dockets whose gear lies on its site, pours there that were stripped."""
    site = Place.objects.filter(pk=pour).values_list("parent", flat=True).first()
    held = Piece.objects.held().exclude(type__kind__in=NEVER_SET).order_by()
    lying = held.filter(place=site, pour=None, docket__to_place=site).values_list("docket", flat=True).distinct()
    phases: dict[int, set[str]] = {}
    in_pours = held.filter(pour__parent=site).exclude(pour=pour).values_list("pour", "phase").distinct()
    for place, phase in in_pours:
        if place is not None:
            phases.setdefault(place, set()).add(phase)
    stripped = [place for place, found in phases.items() if found == {Phase.STRIPPED}]
    dockets = [Group(GroupKind.DOCKET, docket) for docket in sorted(pk for pk in lying if pk is not None)]
    return (*dockets, *(Group(GroupKind.POUR, place) for place in sorted(stripped)))
