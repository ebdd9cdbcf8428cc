"""The catalogue of types."""

from __future__ import annotations

import django_filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from inventory.forms.catalogue import TypeForm
from inventory.forms.filters import ListFilter
from inventory.models import GearType
from inventory.models.roles import Role, roles_of
from inventory.selectors.catalogue import types_with_stock
from inventory.views.access import allow
from inventory.views.listing import NUMBER, ListPage, ListTable
from inventory.views.markup import kilograms, metres

EVERYONE = tuple(Role)


class TypeTable(ListTable):
    code = tables.Column(linkify=("type", {"pk": tables.A("pk")}))
    section_mm = tables.Column(attrs=NUMBER, verbose_name="Section (mm)")
    length_mm = tables.Column(attrs=NUMBER, verbose_name="Length")
    mass_kg = tables.Column(attrs=NUMBER, verbose_name="Mass")
    held = tables.Column(attrs=NUMBER, verbose_name="On the books")
    unfit = tables.Column(attrs=NUMBER, verbose_name="Unfit")

    class Meta(ListTable.Meta):
        model = GearType
        fields = ("code", "name", "kind", "tracked", "section_mm", "length_mm", "mass_kg", "held", "unfit")

    def render_length_mm(self, value: int) -> str:
        return metres(value)

    def value_length_mm(self, value: int) -> int:
        return value

    def render_mass_kg(self, value: object) -> str:
        return kilograms(value)  # type: ignore[arg-type]

    def value_mass_kg(self, value: object) -> object:
        return value


class TypeFilter(ListFilter):
    search_fields = ("code__icontains", "name__icontains")
    search_label = "Code or name"
    kind = django_filters.ChoiceFilter(choices=GearType.Kind.choices, empty_label="any")
    tracked = django_filters.ChoiceFilter(choices=GearType.Tracked.choices, empty_label="any")
    withdrawn = django_filters.BooleanFilter()

    class Meta:
        model = GearType
        fields = ["kind", "tracked", "withdrawn"]


@allow(*EVERYONE)
class TypeList(ListPage):
    title = "Catalogue"
    template_name = "gear/types.html"
    table_class = TypeTable
    filter_class = TypeFilter
    export_name = "types"
    empty_heading = "The catalogue is empty"
    empty_sentence = "Each kind of edge form, bracket, clamp and bolt you own: brought in from a file or entered here."

    def rows(self) -> QuerySet:
        return types_with_stock()


@allow(*EVERYONE, write=[Role.MANAGER])
def gear_type(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(types_with_stock(), pk=pk)
    form = TypeForm(request.POST or None, instance=found)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{found.code} is kept.")
        return redirect("type", pk=found.pk)
    context = {"title": found.name, "type": found, "form": form if Role.MANAGER in roles_of(request.user) else None}
    return render(request, "gear/type.html", context)


@allow(Role.MANAGER)
def type_new(request: HttpRequest) -> HttpResponse:
    form = TypeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        made = form.save()
        messages.success(request, f"{made.code} is in the catalogue.")
        return redirect("type", pk=made.pk)
    return render(request, "gear/type.html", {"title": "A new type", "form": form})
