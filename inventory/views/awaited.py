"""Goods on order: their list, a new one, and what has become of it."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import django_filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from inventory.errors import Refused
from inventory.forms.awaited import AwaitForm, CameForm
from inventory.forms.filters import ListFilter
from inventory.models import Awaited, Person, Place, PlannedCut, PlannedPart
from inventory.models.roles import Role
from inventory.services import awaited as services
from inventory.views.access import allow
from inventory.views.listing import NUMBER, DayColumn, ListPage, ListTable
from inventory.views.who import person_of

READERS = (Role.MANAGER, Role.PLANNER, Role.HAND)
BUYERS = (Role.MANAGER, Role.PLANNER)


class AwaitedTable(ListTable):
    type = tables.Column(accessor="type__name", linkify=("awaited-one", {"pk": tables.A("pk")}), verbose_name="Type")
    quantity = tables.Column(attrs=NUMBER)
    due_on = DayColumn(verbose_name="Due")
    leaves_on = DayColumn(verbose_name="Goes back")

    class Meta(ListTable.Meta):
        model = Awaited
        fields = ("type", "quantity", "place", "due_on", "leaves_on", "note")


class AwaitedFilter(ListFilter):
    search_fields = ("type__code__icontains", "type__name__icontains", "note__icontains")
    search_label = "Type or note"
    place = django_filters.ModelChoiceFilter(queryset=Place.objects.yards(), label="To", empty_label="any yard")

    class Meta:
        model = Awaited
        fields = {"type": ["exact"], "due_on": ["gte", "lte"]}


@allow(*READERS)
class AwaitedList(ListPage):
    title = "On order"
    template_name = "gear/awaited.html"
    table_class = AwaitedTable
    filter_class = AwaitedFilter
    export_name = "on-order"
    order = ("due_on",)
    empty_heading = "Nothing on order"
    empty_sentence = "What is ordered and on its way to a yard stands here; a cover check counts on it from its day."

    def rows(self) -> QuerySet:
        return Awaited.objects.open().select_related("type", "place__parent")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        parts = PlannedPart.objects.filter(cut__in=PlannedCut.objects.standing()).count()
        today, rows = timezone.localdate(), Awaited.objects.open()
        coming, late = rows.filter(due_on__gte=today), rows.filter(due_on__lt=today)
        summed = {
            "coming": sum(coming.values_list("quantity", flat=True)),
            "next_due": coming.values_list("due_on", flat=True).first(),
            "late": sum(late.values_list("quantity", flat=True)),
            "today": today,
            "yesterday": today - timedelta(days=1),
        }
        return super().get_context_data(**({"parts_planned": parts} | summed | kwargs))


@allow(*BUYERS)
def new(request: HttpRequest) -> HttpResponse:
    form = AwaitForm(request.POST or None, initial=dict(request.GET.items()))
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        made = services.await_goods(
            type_=said["type"],
            place=said["place"],
            quantity=said["quantity"],
            due_on=said["due_on"],
            leaves_on=said["leaves_on"],
            note=said["note"],
        )
        messages.success(request, f"{made.quantity:,} x {made.type.name} are on order.")
        return redirect("awaited")
    return render(request, "gear/awaited_form.html", {"title": "Put goods on order", "form": form})


@allow(*READERS)
def one(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Awaited.objects.select_related("type", "place"), pk=pk)
    form = CameForm(request.POST or None, initial={"quantity": found.quantity, "due_on": found.due_on})
    if request.method == "POST" and form.is_valid():
        try:
            messages.success(request, _done(found, form.cleaned_data, person_of(request)))
        except Refused as refused:
            form.add_error(None, refused.sentence)
        else:
            return redirect("awaited")
    title = f"{found.quantity:,} x {found.type.name} on order"
    return render(request, "gear/awaited_form.html", {"title": title, "form": form, "awaited": found})


def _done(found: Awaited, said: dict[str, Any], by: Person | None) -> str:
    if said["done"] == "came":
        return services.came(found, said["quantity"], by=by)
    if said["done"] == "later":
        services.date_anew(found, said["due_on"])
        return "Dated anew."
    services.call_off(found)
    return "Called off: nothing counts on it any more."
