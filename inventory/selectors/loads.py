"""What is to be lifted: the pieces on a docket with their masses, crates as one; or what is wanted, before loading."""

from __future__ import annotations

from decimal import Decimal

from django.db.models import F, Sum
from django.db.models.functions import Coalesce

from inventory.lifting.bundles import Item
from inventory.models import Docket, Piece


def items_on(docket: Docket) -> tuple[list[Item], dict[int, str]]:
    """Items and what each is called. What is loaded; while nothing is, what is wanted. A crate counts its contents."""
    loaded = Piece.objects.held().filter(docket=docket, place=None, crate=None)
    inside = Coalesce(Sum("contents__type__mass_kg"), Decimal(0))
    rows = list(
        loaded.annotate(full=F("type__mass_kg") + inside)
        .order_by("type", "label")
        .values_list("pk", "label", "type__length_mm", "full")
    )
    if rows:
        return [Item(pk, length or 0, mass) for pk, _, length, mass in rows], {pk: label for pk, label, *_ in rows}
    wanted = docket.lines.select_related("type").order_by("type")
    names: dict[int, str] = {}
    anonymous: list[Item] = []
    for line in wanted:
        for _ in range(line.wanted):
            number = -len(anonymous) - 1
            names[number] = line.type.code
            anonymous.append(Item(number, line.type.length_mm or 0, line.type.mass_kg))
    return anonymous, names
