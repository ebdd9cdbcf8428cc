"""What narrows a list: a search box that every list has, and any filters of its own.

class PieceFilter(ListFilter):
    search_fields = ("tags__code__istartswith", "type__code__icontains")
    search_label = "Tag or type code"

    class Meta:
        model = Piece
        fields = ["type", "place"]
"""

from __future__ import annotations

from functools import reduce
from operator import or_
from typing import Any

import django_filters
import django_filters.widgets
from django import forms
from django.db.models import Model, Q, QuerySet

from inventory.tags.code import compact, from_scan


class DayInput(forms.DateInput):
    """The browser's own day picker."""

    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%d")


class YesNo(django_filters.widgets.BooleanWidget):
    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs)
        self.choices = [("", "any"), ("true", "yes"), ("false", "no")]


class ListFilter(django_filters.FilterSet):
    search_fields: tuple[str, ...] = ()
    search_label = "Search by code"

    q = django_filters.CharFilter(method="search", label="Search by code")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.filters["q"].label = self.search_label
        for found in self.filters.values():
            _in_plain_words(found)

    def search(self, rows: QuerySet, _name: str, value: str) -> QuerySet:
        """Every word must be found in one of the fields."""
        for word in value.split()[:6]:
            rows = rows.filter(reduce(or_, (_found(rows.model, field, word) for field in self.search_fields)))
        return rows


def _found(model: type[Model], field: str, word: str) -> Q:
    """Across a relation by key. A join would list a row once for each of many, and would be made for every row."""
    word = _as_kept(field, word)
    first, _, beyond = field.partition("__")
    relation = model._meta.get_field(first)
    if not beyond or relation.related_model is None:
        return Q(**{field: word})
    if relation.one_to_many or relation.many_to_many:
        return Q(pk__in=model._default_manager.filter(**{field: word}).order_by().values("pk"))
    return Q(**{f"{first}__in": relation.related_model._default_manager.filter(**{beyond: word}).order_by()})


def _as_kept(field: str, word: str) -> str:
    """Tag codes are kept in capitals and without hyphens, however they are shown, typed or scanned."""
    names = field.split("__")
    is_code = "label" in names or names[:2] == ["tags", "code"]
    return (compact(from_scan(word)) or word) if is_code else word


def _in_plain_words(found: django_filters.Filter) -> None:
    """The browser's day picker, and yes or no where the library would say "unknown"."""
    if isinstance(found, django_filters.DateFilter):
        found.extra.setdefault("widget", DayInput)
    if isinstance(found, django_filters.BooleanFilter):
        found.extra.setdefault("widget", YesNo)
