"""What narrows a list of pieces: the code on the tag however it is written, the place with its parts, the type."""

from __future__ import annotations

import django_filters
from django.db.models import QuerySet

from inventory.forms.filters import ListFilter
from inventory.models import GearType, Piece, Place
from inventory.tags import code as tag_code


class GearFilter(ListFilter):
    search_fields = (
        "label__startswith",
        "tags__code__startswith",
        "own_number__istartswith",
        "type__code__istartswith",
    )
    search_label = "Tag, own number or type code"
    place = django_filters.ModelChoiceFilter(
        queryset=Place.objects.select_related("parent"), method="at", label="At or in", empty_label="anywhere"
    )
    type = django_filters.ModelChoiceFilter(
        queryset=GearType.objects.filter(tracked=GearType.Tracked.BY_TAG), label="Type", empty_label="any"
    )

    class Meta:
        model = Piece
        fields = ["place", "type"]

    def search(self, rows: QuerySet, name: str, value: str) -> QuerySet:
        code = tag_code.compact(tag_code.from_scan(value))
        return super().search(rows, name, code if tag_code.is_valid(code) else value.strip().upper())

    def at(self, rows: QuerySet, _name: str, value: Place) -> QuerySet:
        return rows.within(value)  # type: ignore[attr-defined]
