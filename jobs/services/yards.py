"""Keeping how far yards are apart."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction

from jobs.models import YardRoad


@transaction.atomic
def keep_roads(roads: Mapping[tuple[int, int], int | None]) -> None:
    """The kilometres between each two yards, by their ids; None where it is not known."""
    for ids, km in roads.items():
        one, other = sorted(ids)
        if km is None:
            YardRoad.objects.filter(one_id=one, other_id=other).delete()
        else:
            YardRoad.objects.update_or_create(one_id=one, other_id=other, defaults={"km": km})
