"""The scan page: one page for camera, handheld and typing; without scripts, typing alone."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_POST

from inventory.errors import Refused
from inventory.forms.scanning import AT_A_PLACE, AT_A_POUR, ON_A_DOCKET, Doing, ScanForm
from inventory.lifecycle.kinds import Kind, PlaceKind
from inventory.models import DamageReason, Docket, Event, Place, YardSettings
from inventory.models.roles import Role
from inventory.selectors.dockets import last_scan, sheet
from inventory.services import at_hand, docket_scans
from inventory.views.access import allow, may, reverse_or_none
from inventory.views.offline import reader, release
from inventory.views.scan_reading import Outcome, act
from inventory.views.who import person_of

SCANNERS = (Role.HAND, Role.SITE_LEAD, Role.MANAGER)


@allow(*SCANNERS)
@ensure_csrf_cookie
def scan(request: HttpRequest) -> HttpResponse:
    """What one is doing, where, then the codes: drawn by the scripts, and plainly beneath for where they do not run."""
    doing = request.GET.get("doing", "")
    docket, place = _chosen(request.GET, doing)
    return _page(request, doing, docket, place)


def _page(
    request: HttpRequest, doing: str, docket: Docket | None, place: Place | None, outcome: Outcome | None = None
) -> HttpResponse:
    context = {
        "person": person_of(request),
        "reader": reader(),
        "lift_kg": YardSettings.current().two_person_lift_kg,
        "photo_url": _photo_url(),
        "slab_url": reverse_or_none("slab") if may(request.user, "slab") else "",
        "state": request.POST.get("state", "dirty"),
    }
    answer = render(request, "scan/scan.html", context | _step(doing, docket, place) | {"outcome": outcome})
    answer["X-Pourback-Release"] = release()
    return answer


def _photo_url() -> str:
    """With words in place of the two ids, which the phone knows."""
    nil = UUID(int=0)
    first, last = reverse("api-photo", args=[nil, nil]).rsplit(str(nil), 1)
    return first.replace(str(nil), "SCAN") + "PHOTO" + last


def _step(doing: str, docket: Docket | None, place: Place | None) -> dict[str, Any]:
    if doing not in Doing.values:
        return {"plain": "scan/plain_doing.html", "title": "What are you doing?", "ways": Doing.choices}
    if (doing in ON_A_DOCKET and docket is None) or (doing in AT_A_PLACE and place is None):
        return {"plain": "scan/plain_where.html"} | _where(doing)
    return {"plain": "scan/plain_scan.html"} | _scanning(doing, docket, place) | state_of(doing, docket)


def _chosen(asked: QueryDict, doing: str) -> tuple[Docket | None, Place | None]:
    docket = place = None
    if doing in ON_A_DOCKET and asked.get("docket", "").isdigit():
        docket = _dockets_for(doing).filter(pk=asked.get("docket", "")).first()
    if doing in AT_A_PLACE and asked.get("place", "").isdigit():
        place = Place.objects.in_use().filter(pk=asked.get("place", "")).first()
    return docket, place


def _dockets_for(doing: str) -> Any:
    dockets = Docket.objects.select_related("from_place", "to_place")
    return dockets.loading() if doing == Doing.LOAD else dockets.open()


def _where(doing: str) -> dict[str, Any]:
    label = Doing(doing).label
    if doing in ON_A_DOCKET:
        return {"title": label, "doing": doing, "dockets": _dockets_for(doing).order_by("-opened_at")[:30]}
    places = Place.objects.in_use().select_related("parent")
    if doing in AT_A_POUR:
        pours = places.filter(kind=PlaceKind.POUR, parent__closed=False).order_by("-pk")[:40]
        return {"title": label, "doing": doing, "places": pours}
    rest = places.exclude(kind=PlaceKind.POUR).order_by("kind", "name")
    return {"title": label, "doing": doing, "places": rest}


def _scanning(doing: str, docket: Docket | None, place: Place | None) -> dict[str, Any]:
    back_to_yard = docket is not None and docket.to_place.kind == PlaceKind.YARD
    return {
        "title": Doing(doing).label,
        "doing": doing,
        "docket": docket,
        "place": place,
        "asks_state": doing == Doing.ARRIVE and back_to_yard,
        "asks_damage": doing == Doing.DAMAGE or (doing == Doing.ARRIVE and back_to_yard),
        "reasons": DamageReason.objects.filter(withdrawn=False),
    }


def state_of(doing: str, docket: Docket | None) -> dict[str, Any]:
    """What stands under the input: the tally so far and what undo would take back."""
    if docket is None:
        return {"doing": doing}
    last = last_scan(docket)
    kinds = (Kind.SENT,) if doing == Doing.LOAD else (Kind.RECEIVED, Kind.RETURNED)
    return {
        "doing": doing,
        "docket": docket,
        "sheet": sheet(docket),
        "undoable": last if last is not None and last.kind in kinds else None,
    }


@allow(*SCANNERS)
@require_POST
def read(request: HttpRequest) -> HttpResponse:
    """One code, where no scripts run: the whole page again, with what became of it."""
    form = ScanForm(request.POST)
    if not form.is_valid():
        outcome = Outcome.stop(" ".join(str(text) for texts in form.errors.values() for text in texts))
        doing = request.POST.get("doing", "")
        return _page(request, doing, *_chosen(request.POST, doing), outcome)
    said = form.cleaned_data
    outcome = act(request, said)
    return _page(request, said["doing"], said["docket"], said["place"], outcome)


@allow(*SCANNERS)
@require_POST
def undo(request: HttpRequest) -> HttpResponse:
    """Take back the scan named: one of this docket's, or one's own of a single piece."""
    events = Event.objects.select_related("docket__from_place", "docket__to_place", "place")
    event = get_object_or_404(events, pk=_event(request))
    doing = request.POST.get("doing", "")
    try:
        if event.docket is not None:
            answer = docket_scans.undo(event.docket, event, by=person_of(request))
        else:
            answer = at_hand.take_back(event, by=person_of(request))
        outcome = Outcome.good("Taken back", answer.sentence)
    except Refused as refused:
        outcome = Outcome.stop(refused.sentence)
    return _page(request, doing, event.docket, event.place, outcome)


def _event(request: HttpRequest) -> UUID:
    try:
        return UUID(request.POST.get("event", ""))
    except ValueError:
        raise Http404("no such scan") from None
