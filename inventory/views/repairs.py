"""One repair: opened from a piece's page, parts, done, inspected; and what mending costs against buying."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from inventory.errors import Refused
from inventory.figures.cost import mend_or_replace
from inventory.forms.upkeep import DateRepairForm, DoneForm, OpenRepairForm, PartsForm, WhyForm
from inventory.lifecycle.kinds import Kind
from inventory.models import Event, RepairOrder, YardSettings
from inventory.models.roles import Role
from inventory.selectors.figures_of_types import curve_of, uses_left
from inventory.selectors.pieces import for_its_page, state_words
from inventory.services import repairs
from inventory.views.access import allow
from inventory.views.days import day_said
from inventory.views.summed import as_of
from inventory.views.who import person_of

CREW = (Role.HAND, Role.MANAGER)


@allow(Role.MANAGER)
def repair_new(request: HttpRequest, pk: int) -> HttpResponse:
    piece = get_object_or_404(for_its_page(), pk=pk)
    form = OpenRepairForm(request.POST or None, initial={"ready_on": day_said(request.GET.get("by", ""))})
    if request.method == "POST" and form.is_valid():
        try:
            order = repairs.open_repair(piece, by=person_of(request), now=timezone.now(), **form.cleaned_data)
            messages.success(request, f"Repair {order} is open.")
            return redirect("repair", pk=order.pk)
        except Refused as refused:
            form.add_error(None, refused.sentence)
    context = {"title": "Open a repair", "piece": piece, "form": form, "press": "Open it"}
    return render(request, "gear/piece_form.html", context)


@allow(*CREW, Role.PLANNER, write=[Role.MANAGER])
def repair(request: HttpRequest, pk: int) -> HttpResponse:
    order = get_object_or_404(RepairOrder.objects.select_related("piece__type", "place", "done_by", "opened_by"), pk=pk)
    piece = get_object_or_404(for_its_page(), pk=order.piece_id)
    summed, choice = as_of(), _choice(order)
    context = {
        "title": f"Repair {order}",
        "order": order,
        "piece": piece,
        "words": state_words(piece),
        "parts": order.parts.select_related("type", "place"),
        "cost": repairs.cost_of(order),
        "took": (order.done_at or timezone.now()) - order.opened_at,
        "currency": YardSettings.current().currency,
        "inspection": _inspection(order),
        "acts": ACTS if order.stage == "open" else {},
        **choice,
        **summed,
    }
    return render(request, "gear/repair.html", context)


def _inspection(order: RepairOrder) -> dict[str, Any]:
    """Who inspected it when it was mended, and what was checked; empty until then."""
    if order.inspected_at is None:
        return {}
    events = Event.objects.filter(piece=order.piece_id, kind=Kind.INSPECTED, happened_at=order.inspected_at)
    return events.values_list("data", flat=True).first() or {}


def _choice(order: RepairOrder) -> dict[str, Any]:
    """Mending against buying: cost so far or as estimated, over the uses each can be expected to give."""
    kind, uses = order.piece.type, order.piece.uses
    curve = curve_of(kind)
    mend = max(repairs.cost_of(order), order.estimate or Decimal(0))
    scrap = YardSettings.current().scrap_price_kg * kind.mass_kg
    left, whole = uses_left(kind, curve, uses), uses_left(kind, curve, 0)
    before = list(order.piece.repairs.exclude(pk=order.pk).prefetch_related("parts"))
    return {
        "mend": mend,
        "scrap": scrap,
        "left": left,
        "whole": whole,
        "choice": mend_or_replace(mend, scrap, left, kind.replacement_value, whole),
        "curve": curve,
        "before": sum((repairs.cost_of(each) for each in before), Decimal(0)),
        "before_count": len(before),
    }


def _date(order: RepairOrder, said: dict[str, Any], request: HttpRequest) -> str:
    repairs.date_repair(order, ready_on=said["ready_on"], estimate=said["estimate"], work_cost=said["work_cost"])
    return "Kept."


def _parts(order: RepairOrder, said: dict[str, Any], request: HttpRequest) -> str:
    part = repairs.use_parts(
        order, said["type"], said["place"], said["quantity"], by=person_of(request), now=timezone.now()
    )
    return f"{part.quantity:,} x {part.type.name} taken off the shelf."


def _done(order: RepairOrder, said: dict[str, Any], request: HttpRequest) -> str:
    repairs.finish_repair(
        order, words=said["words"], work_cost=said["work_cost"], by=person_of(request), now=timezone.now()
    )
    return "Done. If the piece was unfit, it stays locked until it is inspected."


def _give_up(order: RepairOrder, said: dict[str, Any], request: HttpRequest) -> str:
    repairs.give_up(order, why=said["why"], now=timezone.now())
    return f"Repair {order} is given up. Retire the piece, sell it, or cut it down."


Act = tuple[str, Any, Callable[[RepairOrder, dict[str, Any], HttpRequest], str]]
ACTS: dict[str, Act] = {
    "parts": ("Take parts from the shelf", PartsForm, _parts),
    "done": ("The work is done", DoneForm, _done),
    "plan": ("Put its day and cost right", DateRepairForm, _date),
    "give-up": ("Give it up", WhyForm, _give_up),
}


@allow(Role.MANAGER)
def repair_act(request: HttpRequest, pk: int, act: str) -> HttpResponse:
    order = get_object_or_404(RepairOrder.objects.select_related("piece__type", "place"), pk=pk)
    if act not in ACTS:
        raise Http404
    label, form_class, does = ACTS[act]
    kept = {name: getattr(order, name) for name in ("ready_on", "estimate", "work_cost")}
    form = form_class(request.POST or None, initial=kept)
    if request.method == "POST" and form.is_valid():
        try:
            messages.success(request, does(order, form.cleaned_data, request))
            return redirect("repair", pk=order.pk)
        except Refused as refused:
            form.add_error(None, refused.sentence)
    context = {"title": label, "order": order, "piece": order.piece, "form": form, "press": label}
    return render(request, "gear/repair_form.html", context)
