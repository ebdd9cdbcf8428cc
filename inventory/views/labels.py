"""Choosing what to print on which sheet."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.errors import Refused
from inventory.forms.stock import LabelForm
from inventory.models import Piece, YardSettings
from inventory.models.roles import Role
from inventory.services import tagging
from inventory.services.labels import MOST_LABELS, Label, sheet_pdf
from inventory.views.access import allow


@allow(Role.MANAGER, Role.HAND)
def labels(request: HttpRequest) -> HttpResponse:
    base = YardSettings.current().tag_base or request.build_absolute_uri("/").rstrip("/")
    form = LabelForm(request.POST or None, initial=_asked(request))
    if request.method == "POST" and form.is_valid():
        try:
            return _printed(form.cleaned_data, base)
        except Refused as refused:
            form.add_error(None, refused.sentence)
    return render(request, "gear/labels.html", {"title": "Labels", "form": form, "base": base})


def _asked(request: HttpRequest) -> dict[str, Any]:
    codes = request.GET.get("codes", "")[:1000]
    return {"what": "codes", "codes": codes} if codes else {}


@transaction.atomic
def _printed(said: dict[str, Any], base: str) -> HttpResponse:
    now = timezone.now()
    wanted = _wanted(said, now)
    pdf = sheet_pdf(wanted, said["geometry"], base, copies=int(said["copies"]), skip=said["skip"] - 1)
    tagging.mark_printed((label.code for label in wanted), now)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = 'attachment; filename="labels.pdf"'
    return response


def _wanted(said: dict[str, Any], now: Any) -> list[Label]:
    if said["what"] == "new":
        return tagging.labels_for_new(tagging.blank_tags(said["count"], now), said["type"])
    pieces = Piece.objects.held().select_related("type").order_by("type", "pk")
    if said["what"] == "codes":
        found = {piece.label: piece for piece in pieces.filter(label__in=said["codes"][:MOST_LABELS])}
        unknown = [code for code in said["codes"] if code not in found]
        if unknown:
            raise Refused("label-unknown", f"No piece on the books carries {', '.join(unknown[:5])} as its newest tag.")
        return tagging.labels_of(found[code] for code in said["codes"])
    if said["place"]:
        pieces = pieces.within(said["place"])
    if said["type"]:
        pieces = pieces.filter(type=said["type"])
    return tagging.labels_of(pieces[: MOST_LABELS + 1])
