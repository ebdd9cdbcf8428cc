"""Stocktakes: opened, scanned, compared with the record, and closed by the manager who confirms what was found."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.errors import Refused
from inventory.forms.filters import ListFilter
from inventory.forms.stocktakes import CloseForm, OpenForm
from inventory.models import Stocktake
from inventory.models.roles import Role, roles_of
from inventory.selectors.stocktakes import Compared, compare, for_lists
from inventory.services.stocktakes import close_stocktake, open_stocktake
from inventory.views.access import allow
from inventory.views.listing import NUMBER, DayColumn, ListPage, ListTable
from inventory.views.who import person_of

CREW = (Role.HAND, Role.SITE_LEAD, Role.MANAGER)
SHOWN = 500
"""Rows of each list on the page; the tallies count them all."""


class StocktakeTable(ListTable):
    place = tables.Column(linkify=("stocktake", {"pk": tables.A("pk")}), verbose_name="Of")
    opened_at = DayColumn(verbose_name="Opened")
    closed_at = DayColumn(verbose_name="Closed", default="open")
    found = tables.Column(attrs=NUMBER, verbose_name="Found")
    missing = tables.Column(attrs=NUMBER, verbose_name="Missing")
    written_off = tables.Column(attrs=NUMBER, verbose_name="Written off")
    out_of_place = tables.Column(attrs=NUMBER, verbose_name="Out of place")

    class Meta(ListTable.Meta):
        model = Stocktake
        fields = ("place", "opened_at", "closed_at", "found", "missing", "written_off", "out_of_place")


class StocktakeFilter(ListFilter):
    search_fields = ("place__name__icontains",)
    search_label = "Place"

    class Meta:
        model = Stocktake
        fields: list[str] = []


@allow(*CREW)
class StocktakeList(ListPage):
    title = "Stocktakes"
    template_name = "stocktakes/stocktakes.html"
    table_class = StocktakeTable
    filter_class = StocktakeFilter
    export_name = "stocktakes"
    order = ("-opened_at",)
    empty_heading = "No stocktake yet"
    empty_sentence = "Walk a yard or a site, scan everything there, and see what is found, missing and out of place."

    def rows(self) -> QuerySet:
        return for_lists()


@allow(Role.MANAGER)
def stocktake_new(request: HttpRequest) -> HttpResponse:
    form = OpenForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            made = open_stocktake(form.cleaned_data["place"], by=person_of(request), now=timezone.now())
        except Refused as refused:
            form.add_error(None, refused.sentence)
        else:
            messages.success(request, f"The stocktake of {made.place} is open. Scan everything there, part by part.")
            return redirect("stocktake", pk=made.pk)
    return render(request, "stocktakes/new.html", {"title": "Open a stocktake", "form": form})


@allow(*CREW)
def stocktake(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(for_lists(), pk=pk)
    return _page(request, found, None)


@allow(Role.MANAGER)
@require_POST
def stocktake_close(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(for_lists(), pk=pk)
    compared = compare(found) if found.closed_at is None else Compared()
    form = CloseForm([piece.pk for piece in compared.missing], request.POST)
    if not form.is_valid():
        return _page(request, found, form)
    try:
        done = close_stocktake(found, lost=form.cleaned_data["lost"], by=person_of(request), now=timezone.now())
    except Refused as refused:
        form.add_error(None, refused.sentence)
        return _page(request, found, form)
    left = len(done.missing) - len(form.cleaned_data["lost"])
    messages.success(request, f"Closed: {len(done.found)} found, {left} still asked after under Missing.")
    return redirect("stocktake", pk=found.pk)


def _page(request: HttpRequest, found: Stocktake, form: CloseForm | None) -> HttpResponse:
    context: dict[str, Any] = {"title": f"Stocktake of {found.place}", "stocktake": found, "shown": SHOWN}
    if found.closed_at is None:
        context["compared"] = compare(found)
        may_close = Role.MANAGER in roles_of(request.user)
        context["form"] = form or (CloseForm([], None) if may_close else None)
    return render(request, "stocktakes/stocktake.html", context)
