"""What a place holds, by type: the list that always stands beside a return."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Q, Sum

from inventory.lifecycle.kinds import Fitness
from inventory.models import CountedStock, GearType, Piece, Place


@dataclass(frozen=True, slots=True)
class Holding:
    type: GearType
    quantity: int
    dirty: int = 0
    unfit: int = 0


def held_at(place: Place) -> list[Holding]:
    """Pieces and counted goods at the place and its parts, by type; what is on the road is not here."""
    pieces = (
        Piece.objects.held()
        .within(place)
        .order_by()
        .values("type")
        .annotate(n=Count("pk"), dirty=Count("pk", Q(dirty=True)), unfit=Count("pk", Q(fitness=Fitness.UNFIT)))
    )
    goods = (
        CountedStock.objects.filter(Q(place=place) | Q(place__parent=place))
        .order_by()
        .values("type")
        .annotate(n=Sum("quantity"), unfit=Sum("quantity", filter=Q(condition=Fitness.UNFIT)))
    )
    rows = [(row["type"], row["n"], row["dirty"], row["unfit"]) for row in pieces]
    rows += [(row["type"], row["n"], 0, row["unfit"] or 0) for row in goods if row["n"]]
    types = GearType.objects.in_bulk([row[0] for row in rows])
    found = [Holding(types[type_], n, dirty, unfit) for type_, n, dirty, unfit in rows]
    return sorted(found, key=_in_catalogue_order)


def _in_catalogue_order(one: Holding) -> tuple[str, int, int, str]:
    return one.type.kind, one.type.section_mm or 0, one.type.length_mm or 0, one.type.code
