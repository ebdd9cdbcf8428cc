"""Cutting a length down: which length, then into what; filled in where a plan has said so."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from inventory.errors import Refused
from inventory.forms.upkeep import PlannedCutForm, RecutForm
from inventory.models import GearType, Piece, PlannedCut, YardSettings
from inventory.models.roles import Role
from inventory.selectors.pieces import for_its_page
from inventory.selectors.upkeep import shorter_types, to_cut_from
from inventory.services.cutting_down import Part, cut_down, reckon
from inventory.services.planned_cuts import call_off_cut, date_cut_anew
from inventory.services.tagging import unused_codes
from inventory.tags import code as tag_code
from inventory.views.access import allow
from inventory.views.who import person_of

MOST_SHOWN = 40
CAUTION = (
    "Guard the blade, hold the length down, and deburr the ends: the maker's and the local rules for the saw decide. "
    "Whether a cut end may be used as it is, and which ends must be splayed again, is the maker's to say."
)


@allow(Role.MANAGER, Role.PLANNER)
def recut(request: HttpRequest) -> HttpResponse:
    """The lengths planned to be cut; and ?from=TYPE&into=TYPE,TYPE&why=...: the pieces another could be cut from, the
    damaged and the most used first."""
    kind = GearType.objects.filter(code=request.GET.get("from", "")).first()
    asked = {name: request.GET[name] for name in ("into", "why") if request.GET.get(name)}
    lengths = GearType.objects.filter(kind=GearType.Kind.EDGE_FORM, withdrawn=False)
    context = {
        "title": "Cut a length down",
        "kind": kind,
        "pieces": to_cut_from(kind)[:MOST_SHOWN] if kind else [],
        "kinds": lengths,
        "planned": _planned().filter(done_at=None, called_off_at=None),
        "today": timezone.localdate(),
        "into": [code for code in request.GET.get("into", "").split(",") if code],
        "asked": urlencode(asked),
    }
    return render(request, "gear/recut_which.html", context)


@allow(Role.MANAGER)
def piece_recut(request: HttpRequest, pk: int) -> HttpResponse:
    piece = get_object_or_404(for_its_page(), pk=pk)
    form = RecutForm(piece, request.POST or None, initial=_filled_in(request, piece))
    if request.method == "POST" and form.is_valid():
        try:
            made = _cut(request, piece, form)
            named = ", ".join(tag_code.format(each.label) for each in made)
            left = reckon(piece, [each.type for each in made], form.cleaned_data["kerf_mm"])
            scrap = f"{left.offcut_mm:,} mm is left over as scrap, {left.offcut_kg.normalize():f} kg."
            messages.success(request, f"{tag_code.format(piece.label)} is cut down. On the books now: {named}. {scrap}")
            return redirect("piece", pk=piece.pk)
        except Refused as refused:
            form.add_error(None, refused.sentence)
    context = {"title": "Cut it down", "piece": piece, "form": form, "caution": CAUTION}
    return render(request, "gear/recut.html", context | _reckoned(piece, form))


def _planned() -> QuerySet[PlannedCut]:
    return PlannedCut.objects.select_related("piece__type", "piece__place").prefetch_related("parts__type")


@allow(Role.MANAGER, Role.PLANNER)
def planned_cut(request: HttpRequest, pk: int) -> HttpResponse:
    """A length that is planned to be cut: its parts dated anew, or the cut called off."""
    cut = get_object_or_404(_planned(), pk=pk)
    form = PlannedCutForm(request.POST or None, initial={"ready_on": cut.ready_on})
    if request.method == "POST" and form.is_valid():
        try:
            messages.success(request, _replanned(cut, form))
            return redirect("recut")
        except Refused as refused:
            form.add_error(None, refused.sentence)
    return render(request, "gear/planned_cut.html", {"title": "A planned cut", "cut": cut, "form": form})


def _replanned(cut: PlannedCut, form: PlannedCutForm) -> str:
    if form.cleaned_data["done"] == "later":
        date_cut_anew(cut, form.cleaned_data["ready_on"])
        return "Dated anew: a cover check counts on the parts from that day."
    call_off_cut(cut, now=timezone.now())
    return "Called off. The length counts as it did before."


def _cut(request: HttpRequest, piece: Piece, form: RecutForm) -> list[Piece]:
    said = form.cleaned_data
    parts = [Part(kind, code) for kind, code in form.parts_said()]
    return cut_down(piece, parts, kerf_mm=said["kerf_mm"], why=said["why"], by=person_of(request), now=timezone.now())


def _filled_in(request: HttpRequest, piece: Piece) -> dict[str, Any]:
    """Parts that are planned or asked for, with new tags for them; the yard's own saw cut."""
    plan = PlannedCut.objects.open().filter(piece=piece).prefetch_related("parts__type").first()
    asked = request.GET.get("into", "").split(",")
    if plan is not None and "into" not in request.GET:
        asked = [part.type.code for part in plan.parts.all()]
    known = {kind.code: kind for kind in shorter_types(piece)}
    wanted = [known[code] for code in asked if code in known][: RecutForm.MOST]
    why = request.GET.get("why", plan.why if plan else "")[:200]
    filled: dict[str, Any] = {"kerf_mm": YardSettings.current().saw_kerf_mm, "why": why}
    for at, (kind, code) in enumerate(zip(wanted, unused_codes(len(wanted)) if wanted else [], strict=True), start=1):
        filled |= {f"type_{at}": kind.pk, f"code_{at}": tag_code.format(code)}
    return filled


def _reckoned(piece: Piece, form: RecutForm) -> dict[str, Any]:
    """What the cuts come to, where the form says enough."""
    if form.is_bound:
        kinds = [kind for kind, _ in form.parts_said()] if form.is_valid() else []
        kerf = form.cleaned_data.get("kerf_mm", 0) if kinds else 0
    else:
        wanted = [form.initial.get(f"type_{at}") for at in range(1, form.MOST + 1)]
        found = GearType.objects.in_bulk([pk for pk in wanted if pk])
        kinds, kerf = [found[pk] for pk in wanted if pk in found], form.initial["kerf_mm"]
    try:
        return {"cut": reckon(piece, kinds, kerf)} if kinds else {}
    except Refused as refused:
        return {"cut_refused": refused.sentence}
