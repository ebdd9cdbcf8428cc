"""Types, places and crates with how much of each there is."""

from __future__ import annotations

from django.db.models import Count, DecimalField, F, IntegerField, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory.lifecycle.kinds import Fitness, Standing
from inventory.models import CountedStock, GearType, Piece, Place

_ZERO = IntegerField()


def _pieces(field: str, *only: Q) -> Coalesce:
    rows = Piece.objects.filter(*only, standing=Standing.HELD, **{field: OuterRef("pk")}).order_by()
    return Coalesce(Subquery(rows.values(field).annotate(n=Count("pk")).values("n"), output_field=_ZERO), 0)


def types_with_stock() -> QuerySet[GearType]:
    """`held` pieces or counted quantity, and how many of them are `unfit`."""
    goods = CountedStock.objects.filter(type=OuterRef("pk")).order_by().values("type").annotate(n=Sum("quantity"))
    counted = Coalesce(Subquery(goods.values("n"), output_field=_ZERO), 0)
    unfit = Coalesce(Subquery(goods.filter(condition=Fitness.UNFIT).values("n"), output_field=_ZERO), 0)
    return GearType.objects.annotate(
        held=_pieces("type") + counted, unfit=_pieces("type", Q(fitness=Fitness.UNFIT)) + unfit
    )


def places_with_stock() -> QuerySet[Place]:
    """`held` counts pieces at the place itself, its parts left out."""
    return Place.objects.select_related("parent").annotate(held=_pieces("place"))


def crates() -> QuerySet[Piece]:
    """Crates on the books, `holds` pieces of `mass` kg in all, the crate itself included."""
    inside = Piece.objects.filter(crate=OuterRef("pk"), standing=Standing.HELD).order_by().values("crate")
    kilos = DecimalField(max_digits=12, decimal_places=3)
    mass = Subquery(inside.annotate(m=Sum("type__mass_kg")).values("m"), output_field=kilos)
    rows = Piece.objects.held().filter(type__kind=GearType.Kind.CRATE).select_related("type", "place__parent", "docket")
    return rows.annotate(
        holds=Coalesce(Subquery(inside.annotate(n=Count("pk")).values("n"), output_field=_ZERO), 0),
        mass=F("type__mass_kg") + Coalesce(mass, 0, output_field=kilos),
    )


def contents(crate: Piece) -> QuerySet[Piece]:
    return Piece.objects.held().filter(crate=crate).select_related("type", "place__parent").order_by("type", "label")
