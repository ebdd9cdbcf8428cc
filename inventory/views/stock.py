"""Counted goods and crates."""

from __future__ import annotations

from typing import Any

import django_filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from inventory.errors import Refused
from inventory.forms.filters import ListFilter
from inventory.forms.stock import COUNTED, PackForm, RecountForm
from inventory.lifecycle.kinds import Fitness, Kind, Seen
from inventory.models import CountedStock, Piece, Place
from inventory.models.roles import Role
from inventory.selectors import catalogue
from inventory.services.crates import pack, unpack
from inventory.services.recording import record
from inventory.services.reports import Report
from inventory.views.access import allow
from inventory.views.listing import NUMBER, ListPage, ListTable
from inventory.views.markup import kilograms, status
from inventory.views.markup_gear import tag_code
from inventory.views.who import person_of

EVERYONE = tuple(Role)
CREW = (Role.HAND, Role.SITE_LEAD, Role.MANAGER)


class CountedTable(ListTable):
    type = tables.Column(accessor="type__name", linkify=("type", {"pk": tables.A("type_id")}), verbose_name="Type")
    code = tables.Column(accessor="type__code", verbose_name="Code")
    where = tables.Column(empty_values=(), orderable=False)
    condition = tables.Column()
    quantity = tables.Column(attrs=NUMBER)

    class Meta(ListTable.Meta):
        model = CountedStock
        fields = ("type", "code", "where", "condition", "quantity")

    def render_where(self, record: CountedStock) -> str:
        return str(record.place or f"docket {record.docket}")

    def render_condition(self, value: str) -> str:
        return status(value)

    def value_condition(self, value: str) -> str:
        return value


class CountedFilter(ListFilter):
    search_fields = ("type__code__icontains", "type__name__icontains")
    search_label = "Type"
    type = django_filters.ModelChoiceFilter(queryset=COUNTED, empty_label="any")
    place = django_filters.ModelChoiceFilter(
        queryset=Place.objects.select_related("parent"), label="At", empty_label="anywhere"
    )
    condition = django_filters.ChoiceFilter(choices=[(f.value, f.value) for f in Fitness], empty_label="any")

    class Meta:
        model = CountedStock
        fields = ["type", "place", "condition"]


@allow(*EVERYONE)
class CountedList(ListPage):
    title = "Counted goods"
    template_name = "gear/counted.html"
    table_class = CountedTable
    filter_class = CountedFilter
    export_name = "counted-goods"
    order = ("code",)
    empty_heading = "Nothing counted yet"
    empty_sentence = "Bolts, inserts, screws and washers: how many, where and in what condition, once they are counted."

    def rows(self) -> QuerySet:
        return CountedStock.objects.exclude(quantity=0).select_related("type", "place__parent", "docket")


@allow(*CREW)
def recount(request: HttpRequest) -> HttpResponse:
    """A count says how many there are; the record is put right from this moment on."""
    form = RecountForm(request.POST or None, initial={name: request.GET.get(name) for name in ("type", "place")})
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        (answer,) = record([_count(said)], by=person_of(request))
        if answer.answer == "refused":
            form.add_error(None, answer.sentence)
        else:
            messages.success(request, f"Counted: {said['quantity']:,} x {said['type'].name} at {said['place']}.")
            return redirect("counted-goods")
    return render(request, "gear/form.html", {"title": "Count goods", "form": form, "up": "counted-goods"})


def _count(said: dict[str, Any]) -> Report:
    return Report(
        Kind.COUNTED,
        timezone.now(),
        type=said["type"].pk,
        place=said["place"].pk,
        quantity=said["quantity"],
        seen=Seen.TYPED,
        data={"condition": said["condition"]},
    )


class CrateTable(ListTable):
    label = tables.Column(linkify=("crate", {"pk": tables.A("pk")}), verbose_name="Crate")
    own_number = tables.Column(verbose_name="Own number")
    where = tables.Column(empty_values=(), orderable=False)
    holds = tables.Column(attrs=NUMBER, verbose_name="Pieces in it")
    mass = tables.Column(attrs=NUMBER, verbose_name="Mass, full")

    class Meta(ListTable.Meta):
        model = Piece
        fields = ("label", "own_number", "where", "holds", "mass")

    def render_label(self, value: str) -> str:
        return tag_code(value)

    def render_where(self, record: Piece) -> str:
        return str(record.place or (f"docket {record.docket}" if record.docket else ""))

    def render_mass(self, value: Any) -> str:
        return kilograms(value)


class CrateFilter(ListFilter):
    search_fields = ("label__istartswith", "own_number__istartswith")
    search_label = "Tag or own number"

    class Meta:
        model = Piece
        fields: list[str] = []


@allow(*EVERYONE)
class CrateList(ListPage):
    title = "Crates"
    table_class = CrateTable
    filter_class = CrateFilter
    export_name = "crates"
    empty_heading = "No crates yet"
    empty_sentence = "A tagged crate stands for what is listed in it, so that one scan moves a bundle of brackets."

    def rows(self) -> QuerySet:
        return catalogue.crates()


@allow(*EVERYONE, write=CREW)
def crate(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(catalogue.crates(), pk=pk)
    form = PackForm(request.POST if "pack" in request.POST else None)
    if request.method == "POST":
        try:
            done = _packed(request, found, form)
        except Refused as refused:
            form.add_error(None, refused.sentence)
            done = ""
        if done:
            messages.success(request, done)
            return redirect("crate", pk=found.pk)
    context = {"title": f"Crate {tag_code(found.label)}", "crate": found, "form": form}
    return render(request, "gear/crate.html", context | {"contents": catalogue.contents(found)})


def _packed(request: HttpRequest, found: Piece, form: PackForm) -> str:
    """What was done, in words; empty when the form is at fault."""
    by, now = person_of(request), timezone.now()
    if "pack" not in request.POST:
        chosen = [int(pk) for pk in request.POST.getlist("out") if pk.isdigit()]
        count = unpack(found, list(Piece.objects.filter(pk__in=chosen)), by=by, now=now)
        return f"Taken out: {count}." if count else "Nothing was marked to take out."
    if not form.is_valid():
        return ""
    return f"Packed: {pack(found, form.cleaned_data['codes'], by=by, now=now)}."
