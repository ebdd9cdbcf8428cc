"""The forms that hang from one docket: wanted lines, leaving, arriving, counts, counted goods, and no readable tag."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from inventory.errors import Refused
from inventory.forms.dockets import CountForm, GoodsForm, LeaveForm, ReceiveForm, UntaggedForm, WantForm
from inventory.lifecycle.kinds import PlaceKind
from inventory.models import Docket, Piece
from inventory.models.roles import Role, roles_of
from inventory.selectors.dockets import goods_lacking, sheet
from inventory.services import docket_scans
from inventory.services import dockets as services
from inventory.services.docket_scans import Damage
from inventory.views.access import allow
from inventory.views.dockets import CARRIERS, get_docket
from inventory.views.one_form import one_form
from inventory.views.who import person_of


def _form_page(
    request: HttpRequest,
    found: Docket,
    form: forms.Form,
    does: Callable[[dict[str, Any]], str],
    *,
    title: str,
    press: str,
    after: str = "",
    **more: Any,
) -> HttpResponse:
    """Show the form; when it is sent and good, do it, say so, and go back to the docket."""
    docket = reverse("docket", args=[found.pk])

    def done(said: dict[str, Any]) -> str:
        messages.success(request, does(said))
        return after or docket

    context = {"title": title, "docket": found, "press": press, "up": docket}
    return one_form(request, form, done, "dockets/form.html", context | more)


@allow(*CARRIERS, Role.PLANNER)
def want(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_docket(pk)

    def does(said: dict[str, Any]) -> str:
        wanted = dict(found.lines.values_list("type_id", "wanted"))
        services.want(found, wanted | {said["type"].pk: said["quantity"]})
        return f"Wanted on {found.number}: {said['quantity']} x {said['type'].name}."

    form = WantForm(request.POST or None)
    return _form_page(
        request,
        found,
        form,
        does,
        title="What is wanted",
        press="Put it on the docket",
        after=reverse("docket-want", args=[pk]),
        lines=found.lines.select_related("type"),
    )


@allow(*CARRIERS)
def leave(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_docket(pk)
    manager = Role.MANAGER in roles_of(request.user)

    def does(said: dict[str, Any]) -> str:
        services.leave(found, by=person_of(request), **said)
        return f"{found.number} has left."

    initial = {"vehicle": found.vehicle, "driver": found.driver, "signed_by": found.driver}
    form = LeaveForm(request.POST or None, initial=initial, manager=manager)
    return _form_page(
        request, found, form, does, title="The truck leaves", press="It has left", signs=True, sheet=sheet(found)
    )


@allow(*CARRIERS)
def receive(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_docket(pk)
    to_site = found.to_place.kind == PlaceKind.SITE

    def does(said: dict[str, Any]) -> str:
        services.receive(found, by=person_of(request), **said)
        return f"{found.number} has arrived. Count what is on it, and say what is missing."

    form = ReceiveForm(request.POST or None, initial={"whole": to_site})
    return _form_page(request, found, form, does, title="The truck has arrived", press="It has arrived", signs=True)


@allow(*CARRIERS)
def count(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_docket(pk)

    def does(said: dict[str, Any]) -> str:
        services.hand_count(found, who=said["who"], counts=form.counts())
        return f"The {said['who']}'s count is on {found.number}."

    types = [line.type for line in sheet(found).lines]
    form = CountForm(request.POST or None, types=types)
    return _form_page(request, found, form, does, title="Count by hand", press="Put the count down")


@allow(*CARRIERS)
def goods(request: HttpRequest, pk: int) -> HttpResponse:
    """One kind after another: the form stands filled in with what is lacking of the next one."""
    found = get_docket(pk)
    back = found.stage != "loading"
    lacking = {str(kind.pk): (kind, count) for kind, count in goods_lacking(sheet(found), back=back)}
    asked = request.POST.get("type") or request.GET.get("type") or next(iter(lacking), "")
    rest = [key for key in lacking if key != asked]
    initial = {"type": asked, "quantity": lacking[asked][1]} if asked in lacking else {}

    def does(said: dict[str, Any]) -> str:
        answer = docket_scans.move_goods(
            found, said["type"], said["quantity"], by=person_of(request), back=back, condition=said["condition"]
        )
        return f"{said['quantity']:,} x {said['type'].name}: {answer.sentence}"

    return _form_page(
        request,
        found,
        GoodsForm(request.POST or None, initial=initial),
        does,
        title="Counted goods off the truck" if back else "Counted goods onto the truck",
        press="Put it down",
        after=f"{reverse('docket-goods', args=[pk])}?type={rest[0]}" if rest else "",
        goods_lacking=lacking.values(),
    )


@allow(*CARRIERS)
def untagged(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_docket(pk)

    def does(said: dict[str, Any]) -> str:
        reason = said["reason"]
        damage = Damage(reason, reason.usual_grade) if reason else None
        return docket_scans.untagged_back(
            found, said["type"], by=person_of(request), dirty=said["dirty"] == "dirty", damage=damage
        ).sentence

    form = UntaggedForm(request.POST or None)
    after = reverse("docket-untagged", args=[pk])
    return _form_page(request, found, form, does, title="No readable tag", press="Count it in", after=after)


@allow(*CARRIERS)
@require_POST
def exception(request: HttpRequest, pk: int) -> HttpResponse:
    """One piece of a docket received as a whole that was not on it after all."""
    found = get_docket(pk)
    code = request.POST.get("piece", "")
    piece = get_object_or_404(Piece, pk=code if code.isdigit() else 0)
    try:
        services_answer = docket_scans.not_arrived(found, piece, by=person_of(request))
        messages.success(request, f"{piece}: {services_answer.sentence}")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("docket", pk)
