"""Dockets: the list, the paper itself, and what is written on it by hand."""

from __future__ import annotations

from typing import Any

import django_filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from inventory.errors import Refused
from inventory.forms.dockets import OpenDocketForm
from inventory.forms.filters import ListFilter
from inventory.lifecycle.kinds import PlaceKind
from inventory.models import Docket, Place, YardSettings
from inventory.models.roles import Role
from inventory.selectors.dockets import sheet
from inventory.selectors.holdings import held_at
from inventory.services import dockets as services
from inventory.views.access import allow
from inventory.views.docket_paper import as_pdf
from inventory.views.listing import DayColumn, ListPage, ListTable
from inventory.views.one_form import one_form
from inventory.views.who import person_of

EVERYONE = tuple(Role)
CARRIERS = (Role.HAND, Role.SITE_LEAD, Role.MANAGER)


class DocketTable(ListTable):
    number = tables.Column(linkify=("docket", {"pk": tables.A("pk")}), verbose_name="Docket")
    from_place = tables.Column(verbose_name="From")
    to_place = tables.Column(verbose_name="To")
    stage = tables.Column(orderable=False)
    opened_at = DayColumn(verbose_name="Opened")
    left_at = DayColumn(verbose_name="Left")
    received_at = DayColumn(verbose_name="Received")

    class Meta(ListTable.Meta):
        model = Docket
        fields = ("number", "direction", "from_place", "to_place", "vehicle", "stage")
        sequence = (*fields, "opened_at", "left_at", "received_at")


def ends(_request: Any) -> QuerySet:
    """Where a docket can begin or end."""
    return Place.objects.filter(kind__in=[PlaceKind.YARD, PlaceKind.SITE])


class DocketFilter(ListFilter):
    STAGES = (
        ("loading", "loading"),
        ("road", "on the road"),
        ("received", "received, not closed"),
        ("closed", "closed"),
        ("cancelled", "cancelled"),
    )
    search_fields = ("number__icontains", "vehicle__icontains", "driver__icontains")
    search_label = "Docket, truck or driver"
    from_place = django_filters.ModelChoiceFilter(queryset=ends, label="From")
    to_place = django_filters.ModelChoiceFilter(queryset=ends, label="To")
    stage = django_filters.ChoiceFilter(choices=STAGES, method="at_stage", label="Stage")

    def at_stage(self, rows: Any, _name: str, value: str) -> QuerySet:
        return {
            "loading": rows.loading(),
            "road": rows.on_the_road(),
            "received": rows.open().filter(received_at__isnull=False),
            "closed": rows.filter(closed_at__isnull=False),
            "cancelled": rows.filter(cancelled_at__isnull=False),
        }[value]

    class Meta:
        model = Docket
        fields = ["direction"]


@allow(*EVERYONE)
class DocketList(ListPage):
    title = "Dockets"
    template_name = "dockets/list.html"
    table_class = DocketTable
    filter_class = DocketFilter
    export_name = "dockets"
    order = ("-opened_at",)
    empty_heading = "No dockets yet"
    empty_sentence = "A docket is opened for each truck, out to a site, back, or across."

    def rows(self) -> QuerySet:
        return Docket.objects.select_related("from_place", "to_place")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        dockets = Docket.objects.all()
        counts = {"loading": dockets.loading().count(), "road": dockets.on_the_road().count()}
        return super().get_context_data(counts=counts, **kwargs)


def get_docket(pk: int) -> Docket:
    return get_object_or_404(Docket.objects.select_related("from_place", "to_place", "opened_by"), pk=pk)


@allow(*EVERYONE)
def docket(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_docket(pk)
    context = {
        "title": f"Docket {found.number}",
        "docket": found,
        "sheet": sheet(found),
        "lift_kg": YardSettings.current().two_person_lift_kg,
        "may_press": bool(found.stage in ("loading", "on the road", "received")),
        "scan_url": f"{reverse('scan')}?doing={'load' if found.stage == 'loading' else 'arrive'}&docket={found.pk}",
    }
    if found.direction != Docket.Direction.OUT:
        context["held"] = held_at(found.from_place)
    return render(request, "dockets/docket.html", context)


@allow(*EVERYONE)
def paper(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_docket(pk)
    pdf = as_pdf(sheet(found), YardSettings.current())
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{found.number}.pdf"'
    return response


@allow(*CARRIERS, Role.PLANNER)
def new(request: HttpRequest) -> HttpResponse:
    form = OpenDocketForm(request.POST or None, initial=dict(request.GET.items()))

    def done(said: dict[str, Any]) -> str:
        opened = services.open_docket(by=person_of(request), **said)
        messages.success(request, f"Docket {opened.number} is open. Say what is wanted on it, or scan at once.")
        return reverse("docket", args=[opened.pk])

    context = {"title": "Open a docket", "press": "Open the docket", "up": reverse("dockets")}
    return one_form(request, form, done, "dockets/form.html", context)


@allow(*CARRIERS)
@require_POST
def press(request: HttpRequest, pk: int) -> HttpResponse:
    """The presses that need no form: close, and cancel while nothing is on it."""
    does = {"close": services.close, "cancel": services.cancel}.get(request.POST.get("press", ""))
    if does is None:
        messages.error(request, "That press is not known. Open the page again.")
        return redirect("docket", pk)
    try:
        done = does(get_docket(pk))
        messages.success(request, f"Docket {done.number} is {done.stage}.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("docket", pk)
