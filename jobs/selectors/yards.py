"""Our yards in order of how far they are from one of them."""

from __future__ import annotations

from django.db.models import Q

from inventory.models import Place
from jobs.models import YardRoad


def far_from(yard: int | None) -> dict[int, int]:
    """By id of each yard, a number that grows with how far it is: the yard itself, those with a known road by their
    kilometres, then those without one by name."""
    roads = {
        (road.other_id if road.one_id == yard else road.one_id): road.km
        for road in YardRoad.objects.filter(Q(one=yard) | Q(other=yard))
    }
    yards = list(Place.objects.yards().order_by("name").values_list("pk", flat=True))
    order = sorted(yards, key=lambda pk: (pk != yard, pk not in roads, roads.get(pk, 0)))
    return {pk: at for at, pk in enumerate(order)}


def pairs() -> list[tuple[Place, Place, int | None]]:
    """Every two yards in use, with the kilometres between them where known."""
    known = {(road.one_id, road.other_id): road.km for road in YardRoad.objects.all()}
    yards = sorted(Place.objects.yards().in_use(), key=lambda yard: yard.pk)
    found = [(one, other, known.get((one.pk, other.pk))) for one in yards for other in yards if one.pk < other.pk]
    return sorted(found, key=lambda pair: (str(pair[0]), str(pair[1])))
