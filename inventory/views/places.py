"""Places, and what the yard sets for itself."""

from __future__ import annotations

import django_filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from inventory.forms.catalogue import DamageReasons, PlaceForm, YardSettingsForm
from inventory.forms.filters import ListFilter
from inventory.models import DamageReason, Place, YardSettings
from inventory.models.roles import Role, roles_of
from inventory.selectors.catalogue import places_with_stock
from inventory.selectors.holdings import held_at
from inventory.views.access import allow
from inventory.views.listing import NUMBER, ListPage, ListTable

EVERYONE = tuple(Role)


class PlaceTable(ListTable):
    name = tables.Column(linkify=("place", {"pk": tables.A("pk")}))
    parent = tables.Column(verbose_name="Part of")
    held = tables.Column(attrs=NUMBER, verbose_name="Pieces")

    class Meta(ListTable.Meta):
        model = Place
        fields = ("name", "kind", "parent", "held", "closed")


class PlaceFilter(ListFilter):
    search_fields = ("name__icontains", "parent__name__icontains")
    search_label = "Name"
    kind = django_filters.ChoiceFilter(choices=Place._meta.get_field("kind").choices, empty_label="any")
    closed = django_filters.BooleanFilter()

    class Meta:
        model = Place
        fields = ["kind", "closed"]


@allow(*EVERYONE)
class PlaceList(ListPage):
    title = "Places"
    template_name = "gear/places.html"
    table_class = PlaceTable
    filter_class = PlaceFilter
    export_name = "places"
    empty_heading = "No places yet"
    empty_sentence = "Begin with your yard and its wash bay. Sites and pours come with their jobs."

    def rows(self) -> QuerySet:
        return places_with_stock()


@allow(*EVERYONE, write=[Role.MANAGER])
def place(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(places_with_stock(), pk=pk)
    form = PlaceForm(request.POST or None, instance=found)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{found.name} is kept.")
        return redirect("place", pk=found.pk)
    holdings = held_at(found)
    context = {
        "title": str(found),
        "place": found,
        "holdings": holdings,
        "total": sum(each.quantity for each in holdings),
        "dirty": sum(each.dirty for each in holdings),
        "unfit": sum(each.unfit for each in holdings),
        "form": form if Role.MANAGER in roles_of(request.user) else None,
    }
    return render(request, "gear/place.html", context)


@allow(Role.MANAGER)
def place_new(request: HttpRequest) -> HttpResponse:
    form = PlaceForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        made = form.save()
        messages.success(request, f"{made} is there now.")
        return redirect("place", pk=made.pk)
    return render(request, "gear/place.html", {"title": "A new place", "form": form})


@allow(Role.MANAGER)
def yard_settings(request: HttpRequest) -> HttpResponse:
    form = YardSettingsForm(request.POST or None, instance=YardSettings.current())
    reasons = DamageReasons(request.POST or None, queryset=DamageReason.objects.all(), prefix="reasons")
    if request.method == "POST" and form.is_valid() and reasons.is_valid():
        form.save()
        reasons.save()
        messages.success(request, "Settings kept.")
        return redirect("yard-settings")
    return render(request, "gear/settings.html", {"title": "Yard settings", "form": form, "reasons": reasons})
