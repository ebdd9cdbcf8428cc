"""What can be done to a piece now: one form each, each a report to the ledger."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from inventory.errors import Refused
from inventory.forms.pieces import (
    DetailsForm,
    FoundForm,
    HiredInForm,
    NewPieceForm,
    NoteForm,
    RetagForm,
)
from inventory.forms.upkeep import DamageForm, InspectForm, LostForm, RetireForm, WentBackForm
from inventory.lifecycle.kinds import Fitness, Kind, Standing
from inventory.models import GearType, Piece
from inventory.models.roles import Role, roles_of
from inventory.selectors.pieces import for_its_page
from inventory.services.lots import entered_anew
from inventory.services.presses import press
from inventory.services.registering import NewPiece, register_pieces, retag
from inventory.tags import code as tag_code
from inventory.views.access import allow, refuse
from inventory.views.who import person_of

CREW = (Role.HAND, Role.SITE_LEAD, Role.MANAGER)
DESK = (Role.MANAGER,)
CAUTION = (
    "Unfit gear stays out of use until somebody competent has inspected it by the maker's data and the local code."
)


@dataclass(frozen=True, slots=True)
class Press:
    """A form on the piece's page: what it records, who may, when it is offered, and what it says."""

    name: str
    kind: Kind
    label: str
    form: type[forms.Form]
    roles: tuple[Role, ...]
    offered: Callable[[Piece], bool]
    done: str
    caution: str = ""


def _held(piece: Piece) -> bool:
    return piece.standing == Standing.HELD


def _lost(piece: Piece) -> bool:
    return piece.standing == Standing.LOST


PRESSES = {
    each.name: each
    for each in (
        Press("damaged", Kind.FOUND_DAMAGED, "Mark it damaged", DamageForm, CREW, _held, "Marked damaged.", CAUTION),
        Press("cleaned", Kind.CLEANED, "It is cleaned", NoteForm, CREW, lambda p: _held(p) and p.dirty, "Clean."),
        Press("inspected", Kind.INSPECTED, "It is inspected", InspectForm, DESK, _held, "Inspected.", CAUTION),
        Press(
            "retire", Kind.RETIRED, "Retire or sell it", RetireForm, DESK, _held, "Off the books; its history stays."
        ),
        Press("lost", Kind.LOST, "Write it off as lost", LostForm, DESK, _held, "Written off as lost."),
        Press(
            "found",
            Kind.FOUND,
            "It is found",
            FoundForm,
            CREW,
            _lost,
            "Back on the books.",
        ),
    )
}


def open_presses(piece: Piece, roles: Collection[Role]) -> list[tuple[str, str]]:
    """(label, address) of what this reader can do to the piece now, the likeliest first."""
    offered = [each for each in PRESSES.values() if set(each.roles) & set(roles) and each.offered(piece)]
    offered.sort(key=lambda each: each.name != ("inspected" if piece.fitness == Fitness.UNFIT else "cleaned"))
    found = [(_label(each, piece), reverse("piece-press", args=[piece.pk, each.name])) for each in offered]
    if set(CREW) & set(roles) and _held(piece):
        found.append(("Put a new tag on", reverse("piece-retag", args=[piece.pk])))
    if set(DESK) & set(roles) and _held(piece):
        found += [(label, reverse(name, args=[piece.pk])) for name, label in further(piece)]
    if set(DESK) & set(roles):
        found.append(("Put its details right", reverse("piece-details", args=[piece.pk])))
    return found


def further(piece: Piece) -> list[tuple[str, str]]:
    """(url name, label) of the manager's pages about a piece that is held."""
    hired = hasattr(piece, "hired_in")
    found = [("repair-new", "Open a repair")]
    if piece.type.kind == GearType.Kind.EDGE_FORM and not hired:
        found.append(("piece-recut", "Cut it down"))
    found.append(("piece-hired-in", "Change what it is hired in for" if hired else "It is hired in"))
    return found


def _label(what: Press, piece: Piece) -> str:
    """Gear of somebody else is never retired as ours."""
    return "It went back to its owner" if what.kind == Kind.RETIRED and hasattr(piece, "hired_in") else what.label


@allow(*CREW)
def piece_press(request: HttpRequest, pk: int, name: str) -> HttpResponse:
    piece, what = get_object_or_404(for_its_page(), pk=pk), PRESSES.get(name)
    if what is None:
        raise Http404
    if not set(what.roles) & roles_of(request.user):
        return refuse(request, what.roles)
    form: Any = _press_form(request, piece, what)

    def does() -> str:
        more = {name: form.cleaned_data.get(name) for name in ("place", "docket")}
        photos = form.cleaned_data.get("photo") or ()
        press(piece, what.kind, by=person_of(request), now=timezone.now(), data=form.data_said(), photos=photos, **more)
        return f"{tag_code.format(piece.label)}: {what.done}"

    return _form_page(request, piece, form, does, title=_label(what, piece), caution=what.caution)


def _press_form(request: HttpRequest, piece: Piece, what: Press) -> forms.Form:
    data, files = request.POST or None, request.FILES or None
    if what.form is DamageForm:
        return DamageForm(piece, data, files)
    if what.form is InspectForm:
        return InspectForm(data, initial={"by_name": person_of(request).name})
    if what.form is RetireForm and hasattr(piece, "hired_in"):
        return WentBackForm(data)
    return what.form(data, files)


@allow(*CREW)
def piece_retag(request: HttpRequest, pk: int) -> HttpResponse:
    piece = get_object_or_404(for_its_page(), pk=pk)
    form = RetagForm(piece, request.POST or None)

    def does() -> str:
        said = form.cleaned_data
        new = retag(piece, said["code"], by=person_of(request), withdraw=said["withdraw"])
        return f"{tag_code.format(new.code)} is on the piece. Its history stays, and the old code still leads here."

    return _form_page(request, piece, form, does, title="Put a new tag on")


@allow(*DESK)
def piece_details(request: HttpRequest, pk: int) -> HttpResponse:
    piece = get_object_or_404(for_its_page(), pk=pk)
    form = DetailsForm(request.POST or None, instance=piece)

    def does() -> str:
        form.save()
        entered_anew([piece.pk])
        return "Details kept."

    return _form_page(request, piece, form, does, title="Put its details right")


@allow(*DESK)
def piece_hired_in(request: HttpRequest, pk: int) -> HttpResponse:
    """Whose it is: by hand, where it did not come with a file."""
    piece = get_object_or_404(for_its_page(), pk=pk)
    form = HiredInForm(request.POST or None, instance=getattr(piece, "hired_in", None))

    def does() -> str:
        form.instance.piece = piece
        form.save()
        entered_anew([piece.pk])
        return f"{tag_code.format(piece.label)} is kept as hired in from {form.instance.owner}."

    return _form_page(request, piece, form, does, title="Hired in")


def _form_page(
    request: HttpRequest, piece: Piece, form: forms.BaseForm, does: Callable[[], str], *, title: str, caution: str = ""
) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        try:
            messages.success(request, does())
            return redirect("piece", pk=piece.pk)
        except Refused as refused:
            form.add_error(None, refused.sentence)
    context = {"title": title, "piece": piece, "form": form, "caution": caution, "press": title}
    return render(request, "gear/piece_form.html", context)


@allow(*DESK)
def piece_new(request: HttpRequest) -> HttpResponse:
    form = NewPieceForm(request.POST or None, initial={"code": request.GET.get("code", "")[:40]})
    if request.method == "POST" and form.is_valid():
        try:
            made = _register(request, form.cleaned_data)
            messages.success(request, f"{tag_code.format(made.label)} is on the books.")
            return redirect("piece", pk=made.pk)
        except Refused as refused:
            form.add_error(None, refused.sentence)
    return render(
        request, "gear/piece_form.html", {"title": "A new piece", "form": form, "press": "Put it on the books"}
    )


def _register(request: HttpRequest, said: dict[str, Any]) -> Piece:
    codes = tuple(code for code in (said["code"], said["second"]) if code)
    new = NewPiece(
        said["type"].pk, codes, said["place"].pk, Fitness(said["fitness"]), dirty=said["dirty"], uses=said["uses"]
    )
    (made,) = register_pieces([new], by=person_of(request))
    if said["own_number"]:
        Piece.objects.filter(pk=made.pk).update(own_number=said["own_number"])
    return made
