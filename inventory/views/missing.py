"""Gear that should have been there: the list, one case, and missing from a return."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import django_filters
import django_tables2 as tables
from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from inventory.errors import Refused
from inventory.forms.filters import ListFilter
from inventory.forms.pieces import FoundForm
from inventory.forms.upkeep import AskedForm, LostForm, MissForm
from inventory.lifecycle.kinds import Standing
from inventory.models import Docket, Missing, Piece, Place, Tag
from inventory.models.roles import Role
from inventory.services import missing as services
from inventory.tags import code as tag_code
from inventory.views.access import allow
from inventory.views.listing import DayColumn, ListPage, ListTable
from inventory.views.markup import status
from inventory.views.who import person_of

LOOKERS = (Role.HAND, Role.MANAGER, Role.HIRE_DESK, Role.SITE_LEAD)


class MissingTable(ListTable):
    piece = tables.Column(linkify=("missing-case", {"pk": tables.A("pk")}), verbose_name="Tag")
    type = tables.Column(accessor="piece__type__name", verbose_name="Type")
    place = tables.Column(verbose_name="Should be at")
    missed = tables.Column(verbose_name="Missed")
    opened_at = DayColumn(verbose_name="Since")
    stage = tables.Column(empty_values=(), orderable=False, verbose_name="How it stands")
    value = tables.Column(accessor="piece__type__replacement_value", verbose_name="Replacement value")

    class Meta(ListTable.Meta):
        model = Missing
        fields = ("piece", "type", "place", "missed", "opened_at", "stage", "value")

    def render_piece(self, record: Missing) -> str:
        return tag_code.format(record.piece.label)

    def render_stage(self, record: Missing) -> str:
        return status(stage_of(record))

    def value_stage(self, record: Missing) -> str:
        return stage_of(record)


def stage_of(case: Missing) -> str:
    """Closed, seen since by somebody's scan, or missing still."""
    if case.closed_at:
        back = case.outcome == Missing.Outcome.WRITTEN_OFF and case.piece.standing == Standing.HELD
        return f"{case.outcome}, found since" if back else str(case.outcome)
    return "seen since" if seen_since(case) else "missing"


def seen_since(case: Missing) -> bool:
    last = case.piece.last_happened
    return last is not None and last > case.opened_at and case.piece.standing == "held"


class MissingFilter(ListFilter):
    search_fields = ("piece__label__startswith", "piece__type__code__istartswith")
    search_label = "Tag or type code"
    open = django_filters.BooleanFilter(field_name="closed_at", lookup_expr="isnull", label="Still open")
    missed = django_filters.ChoiceFilter(choices=Missing.Missed.choices, empty_label="any")
    place = django_filters.ModelChoiceFilter(
        queryset=Place.objects.select_related("parent"), label="Should be at", empty_label="anywhere"
    )

    class Meta:
        model = Missing
        fields = ["open", "missed", "place"]


@allow(*LOOKERS)
class MissingList(ListPage):
    title = "Missing"
    template_name = "gear/missing.html"
    table_class = MissingTable
    filter_class = MissingFilter
    export_name = "missing"
    order = ("opened_at",)
    empty_heading = "Nothing is missing"
    empty_sentence = "A piece that a return or a stocktake misses stands here until it is found or written off."

    def rows(self) -> QuerySet:
        return Missing.objects.select_related("piece__type", "place__parent", "docket")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        open_cases = Missing.objects.open()
        return super().get_context_data(open_cases=open_cases.count(), **kwargs)


@allow(Role.MANAGER)
def missing_new(request: HttpRequest) -> HttpResponse:
    """?docket=N offers what was loaded on it and never counted off; without such, or with &all=1, what stayed behind on
    the site that it came back from."""
    number = request.GET.get("docket", "")
    docket = Docket.objects.select_related("from_place").filter(pk=number if number.isdigit() else 0).first()
    lacking = docket is not None and "all" not in request.GET and Piece.objects.held().filter(docket=docket).exists()
    form = MissForm(request.POST or None, initial=_behind(docket, everything=not lacking))
    if request.method == "POST" and form.is_valid():
        pieces, unknown = _pieces(form.cleaned_data["codes"])
        if unknown:
            form.add_error("codes", f"No piece carries {', '.join(unknown[:5])}.")
        else:
            place = docket.from_place if docket else None
            said = {"missed": form.cleaned_data["missed"], "docket": docket, "place": place}
            cases = services.miss(pieces, by=person_of(request), now=timezone.now(), **said)
            messages.success(request, f"{len(cases):,} on the list. Ask after them, then write down what was said.")
            return redirect("missing")
    return render(
        request, "gear/missing_new.html", {"title": "Missing gear", "form": form, "docket": docket, "lacking": lacking}
    )


def _behind(docket: Docket | None, *, everything: bool) -> dict[str, Any]:
    if docket is None:
        return {}
    held = Piece.objects.held().within(docket.from_place) if everything else Piece.objects.held().filter(docket=docket)
    labels = held.order_by("type", "label").values_list("label", flat=True)
    codes = "\n".join(tag_code.format(label) for label in labels[:500])
    return {"codes": codes, "missed": Missing.Missed.RETURN}


def _pieces(codes: list[str]) -> tuple[list[Piece], list[str]]:
    tags = {tag.code: tag.piece for tag in Tag.objects.filter(code__in=codes).select_related("piece__place")}
    found = [piece for code in codes if (piece := tags.get(code)) is not None]
    return found, [tag_code.format(code) for code in codes if tags.get(code) is None]


def _case(pk: int) -> Missing:
    return get_object_or_404(
        Missing.objects.select_related("piece__type", "piece__place__parent", "place", "docket", "opened_by"), pk=pk
    )


@allow(*LOOKERS)
def case(request: HttpRequest, pk: int) -> HttpResponse:
    found = _case(pk)
    context = {
        "title": "Missing",
        "case": found,
        "piece": found.piece,
        "stage": stage_of(found),
        "seen": not found.closed_at and seen_since(found),
        "notes": found.notes.select_related("by"),
        "acts": ACTS if not found.closed_at else {},
        "lost": bool(found.closed_at) and found.piece.standing == Standing.LOST,
    }
    return render(request, "gear/missing_case.html", context)


def _asked(found: Missing, said: dict[str, Any], request: HttpRequest) -> str:
    services.ask_after(found, words=said["words"], by=person_of(request), now=timezone.now())
    return "Kept."


def _found(found: Missing, said: dict[str, Any], request: HttpRequest) -> str:
    services.found(found, place=said["place"], by=person_of(request), now=timezone.now())
    return "Found. If it was charged as lost, the next bill takes that back."


def _write_off(found: Missing, said: dict[str, Any], request: HttpRequest) -> str:
    services.write_off(
        found,
        value=said["value"],
        charge=said["charge"] == "yes",
        reason=said["reason"],
        by=person_of(request),
        now=timezone.now(),
    )
    return "Written off. Found later, it is undone all the way to the bill."


Act = tuple[str, type[forms.Form], Callable[[Missing, dict[str, Any], HttpRequest], str]]
ACTS: dict[str, Act] = {
    "asked": ("Somebody was asked", AskedForm, _asked),
    "found": ("It is found", FoundForm, _found),
    "write-off": ("Write it off", LostForm, _write_off),
}


@allow(Role.MANAGER)
def case_act(request: HttpRequest, pk: int, act: str) -> HttpResponse:
    found = _case(pk)
    if act not in ACTS:
        raise Http404
    label, form_class, does = ACTS[act]
    given = {"place": found.piece.place_id if seen_since(found) else None}
    form = form_class(request.POST or None, initial=given)
    if request.method == "POST" and form.is_valid():
        try:
            messages.success(request, does(found, form.cleaned_data, request))
            return redirect("missing-case", pk=found.pk)
        except Refused as refused:
            form.add_error(None, refused.sentence)
    context = {"title": label, "piece": found.piece, "form": form, "press": label}
    return render(request, "gear/piece_form.html", context)
