"""Stocktakes: opened, scanned, compared with the record, and closed by the manager who confirms what was found."""

from __future__ import annotations

import re
from typing import Any

import django_tables2 as tables
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.errors import Refused
from inventory.forms.filters import ListFilter
from inventory.forms.stocktakes import CloseForm, OpenForm
from inventory.lifecycle.kinds import PlaceKind
from inventory.models import Stocktake
from inventory.models.roles import Role, roles_of
from inventory.selectors.stocktakes import closed_goods, compare, for_lists
from inventory.services.stocktakes import (
    close_stocktake,
    forget_marks_of_what_turned_up,
    mark,
    open_stocktake,
)
from inventory.views.access import allow
from inventory.views.listing import NUMBER, DayColumn, ListPage, ListTable
from inventory.views.one_form import one_form
from inventory.views.who import person_of

SHORT = re.compile("[0-9]{1,15}")
CREW = (Role.HAND, Role.SITE_LEAD, Role.MANAGER)
SHOWN = 100
"""Rows of each list on one page; the tallies count them all."""


class StocktakeTable(ListTable):
    place = tables.Column(linkify=("stocktake", {"pk": tables.A("pk")}), verbose_name="Of")
    opened_at = DayColumn(verbose_name="Opened")
    closed_at = DayColumn(verbose_name="Closed", default="open")
    found = tables.Column(attrs=NUMBER, verbose_name="Found")
    missing = tables.Column(attrs=NUMBER, verbose_name="Missing")
    written_off = tables.Column(attrs=NUMBER, verbose_name="Written off")
    out_of_place = tables.Column(attrs=NUMBER, verbose_name="Out of place")

    def while_open(self, value: int, record: Stocktake) -> int | str:
        """The numbers are those of the close; before that they would say that nothing is missing."""
        return "" if record.closed_at is None else value

    render_found = render_missing = render_written_off = render_out_of_place = while_open
    value_found = value_missing = value_written_off = value_out_of_place = while_open

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

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(open=Stocktake.objects.open().count(), **kwargs)


@allow(Role.MANAGER)
def stocktake_new(request: HttpRequest) -> HttpResponse:
    def done(said: dict[str, Any]) -> str:
        made = open_stocktake(said["place"], by=person_of(request), now=timezone.now())
        messages.success(request, f"The stocktake of {made.place} is open. Scan everything there, part by part.")
        return reverse("stocktake", args=[made.pk])

    form = OpenForm(request.POST or None)
    return one_form(request, form, done, "stocktakes/new.html", {"title": "Open a stocktake"})


@allow(*CREW)
def stocktake(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(for_lists(), pk=pk)
    return _page(request, found, None)


@allow(Role.MANAGER)
@require_POST
def stocktake_close(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(for_lists(), pk=pk)
    form = CloseForm(request.POST)
    marked = _keep_marks(request, found)
    if not form.is_valid():
        return _page(request, found, form)
    charge = form.cleaned_data["charge"] == "yes" and found.place.kind == PlaceKind.SITE
    try:
        done = close_stocktake(found, lost=marked, by=person_of(request), now=timezone.now(), charge=charge)
    except Refused as refused:
        form.add_error(None, refused.sentence)
        forget_marks_of_what_turned_up(found)
        return _page(request, found, form)
    left = len(done.missing) - len(marked)
    messages.success(request, f"Closed: {len(done.found)} found, {left} still asked after under Missing.")
    return redirect("stocktake", pk=found.pk)


@allow(Role.MANAGER)
@require_POST
def stocktake_mark(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep the marks of one page, or mark everything or nothing, and turn to the page asked for."""
    found = get_object_or_404(for_lists().filter(closed_at=None), pk=pk)
    _keep_marks(request, found)
    if (every := request.POST.get("every", "")) in ("marked", "unmarked"):
        missing = [piece.pk for piece in compare(found).missing]
        mark(found, shown=missing, lost=missing if every == "marked" else [])
    turn = request.POST.get("turn", "")
    query = f"?missing={turn}" if turn.isascii() and turn.isdigit() else ""
    return redirect(f"{reverse('stocktake', args=[found.pk])}{query}#missing")


def _keep_marks(request: HttpRequest, found: Stocktake) -> list[int]:
    """What is marked to be written off, once the marks of the page that was shown are kept."""
    shown, lost = ([int(pk) for pk in request.POST.getlist(name) if SHORT.fullmatch(pk)] for name in ("shown", "lost"))
    if found.closed_at is None:
        mark(found, shown=shown, lost=lost)
    return list(found.marks.values_list("piece", flat=True))


LISTS = ("out_of_place", "was_lost", "off_the_books", "missing")


def _page(request: HttpRequest, found: Stocktake, form: CloseForm | None) -> HttpResponse:
    context: dict[str, Any] = {"title": f"Stocktake of {found.place}", "stocktake": found}
    if found.closed_at is None:
        compared = compare(found)
        pages = {name: Paginator(getattr(compared, name), SHOWN).get_page(request.GET.get(name)) for name in LISTS}
        may_close = Role.MANAGER in roles_of(request.user)
        marked = set(found.marks.values_list("piece", flat=True)) if may_close else set()
        context |= {"compared": compared, "pages": pages, "marked": marked}
        context["form"] = form or (CloseForm() if may_close else None)
    else:
        context["goods"] = closed_goods(found)
    return render(request, "stocktakes/stocktake.html", context)
