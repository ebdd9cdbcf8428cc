"""Bundles of a load that keep a limit, and the published lifting equation as an aid."""

from __future__ import annotations

from collections import Counter
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from inventory.errors import Refused
from inventory.forms.lifting import BundleForm, LiftForm
from inventory.lifting.bundles import Bundle, bundled
from inventory.lifting.niosh import index, multipliers, recommended_kg
from inventory.models import Docket, YardSettings
from inventory.models.roles import Role
from inventory.selectors.loads import items_on
from inventory.tags import code as tag_code
from inventory.views.access import allow

EVERYONE = tuple(Role)


@allow(*EVERYONE)
def bundles(request: HttpRequest, pk: int) -> HttpResponse:
    docket = get_object_or_404(Docket.objects.select_related("from_place", "to_place"), pk=pk)
    settings, (items, names) = YardSettings.current(), items_on(docket)
    form = BundleForm(
        {"way": "two"} | {name: request.GET[name] for name in BundleForm.base_fields if name in request.GET}
    )
    context: dict[str, Any] = {
        "title": f"Bundles of docket {docket}",
        "docket": docket,
        "form": form,
        "pieces": len(items),
        "mass": sum(item.mass_kg for item in items),
        "loaded": bool(items) and items[0].id > 0,
        "lift_kg": settings.two_person_lift_kg,
    }
    if form.is_valid():
        limit = form.limit(settings)
        try:
            found = bundled(items, limit, form.cleaned_data["most"] or 0)
        except Refused as refused:
            form.add_error(None, refused.sentence)
        else:
            heavy = [(_named(names[item.id]), item.mass_kg) for item in found.too_heavy]
            context |= {"limit": limit, "heavy": heavy, "bundles": [_said(each, names) for each in found.bundles]}
    return render(request, "gear/bundles.html", context)


def _said(bundle: Bundle, names: dict[int, str]) -> dict[str, Any]:
    """Tags where they are known, else how many of each type."""
    counts = Counter(names[item.id] for item in bundle.items)
    words = [_named(name) if count == 1 else f"{count} x {name}" for name, count in counts.items()]
    return {"count": len(bundle.items), "mass": bundle.mass_kg, "length": bundle.length_mm, "words": ", ".join(words)}


def _named(name: str) -> str:
    return tag_code.format(name) if tag_code.is_valid(name) else name


@allow(*EVERYONE)
def lifting(request: HttpRequest) -> HttpResponse:
    """?load_kg=... and the measures of the lift; nothing is kept."""
    usual = {name: field.initial for name, field in LiftForm.base_fields.items() if field.initial is not None}
    usual |= {"load_kg": "15", "spell": "up to 1 hour"}
    form = LiftForm(usual | {name: request.GET[name] for name in LiftForm.base_fields if name in request.GET})
    context: dict[str, Any] = {"title": "One lift", "form": form}
    if form.is_valid():
        lift, share = form.lift(), form.share_kg
        by = multipliers(lift)
        context |= {"limit": recommended_kg(lift), "share": share, "index": index(share, lift)}
        context["multipliers"] = [
            ("reach", by.across),
            ("height of the hands", by.height),
            ("travel", by.travel),
            ("twist", by.twist),
            ("how often and how long", by.often),
            ("grip", by.grip),
        ]
    return render(request, "gear/lifting.html", context)
