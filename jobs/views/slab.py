"""The slab: today's pours in order, with one large press each, and exceptions by scanning."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.errors import Refused
from inventory.lifecycle.kinds import Kind
from inventory.models import Docket, Submission, YardSettings
from inventory.models.roles import Role, roles_of
from inventory.services import pour_presses
from inventory.services.recording import Answer
from inventory.views.access import allow
from inventory.views.who import person_of
from jobs.models import Pour
from jobs.selectors.slab import slabs
from jobs.services.inserts import keep_inserts
from jobs.services.stages import gear_goes_out

ON_THE_SLAB = (Role.SITE_LEAD, Role.MANAGER)
PRESSES = {"cast": Kind.CAST, "called off": Kind.CALLED_OFF, "strip": Kind.STRIPPED, "clean": Kind.CLEANED}
SAID = {
    "cast": "is cast",
    "called off": "is called off; its gear has no use and no dirt from it",
    "strip": "is stripped",
    "clean": "is cleaned",
    "set": "is set",
    "undo": ": the last press is taken back",
}


@allow(*ON_THE_SLAB)
def slab(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    found = slabs(today)
    context = {
        "title": "At the pour",
        "slabs": found,
        "today": [each for each in found if each.pour.cast_on == today],
        "unfit": sum(each.unfit for each in found),
        "lift_kg": YardSettings.current().two_person_lift_kg,
        "manager": Role.MANAGER in roles_of(request.user),
    }
    return render(request, "slab/slab.html", context)


@allow(*ON_THE_SLAB)
@require_POST
def press(request: HttpRequest) -> HttpResponse:
    number = request.POST.get("pour", "")
    pours = Pour.objects.select_related("place__parent", "job")
    pour = get_object_or_404(pours, pk=number if number.isdigit() else 0)
    act = request.POST.get("act", "")
    try:
        answer = _do(request, pour, act)
        gear_goes_out(pour.job)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("slab")
    _say(request, pour, act, answer)
    return redirect("slab")


def _do(request: HttpRequest, pour: Pour, act: str) -> Answer:
    by = person_of(request)
    if act in PRESSES:
        answer = pour_presses.press(pour.place, PRESSES[act], by=by)
        keep_inserts(pour.job)
        return answer
    if act == "undo":
        answer = pour_presses.undo_press(pour.place, by=by)
        keep_inserts(pour.job)
        return answer
    if act != "set":
        raise Refused("unknown-press", "That press is not known. Open the page again.")
    override = request.POST.get("override", "") if Role.MANAGER in roles_of(request.user) else ""
    source, _, number = request.POST.get("source", "").partition(":")
    if source == "docket" and number.isdigit():
        docket = get_object_or_404(Docket.objects.select_related("to_place"), pk=number)
        return pour_presses.set_from_docket(docket, pour.place, by=by, override=override)
    if source == "pour" and number.isdigit():
        below = get_object_or_404(Pour.objects.select_related("place"), pk=number, job=pour.job)
        return pour_presses.set_from_pour(below.place, pour.place, by=by, override=override)
    raise Refused("no-source", "Say where its gear comes from: a docket, or the pour below.")


def _say(request: HttpRequest, pour: Pour, act: str, answer: Answer) -> None:
    if answer.answer == Submission.Answer.REFUSED:
        messages.error(request, f"{answer.sentence} Scan the pieces you do set, or ask the yard manager.")
    elif answer.answer == Submission.Answer.IN_REVIEW:
        messages.warning(request, f"{pour} {SAID[act]}. {answer.sentence}")
    else:
        messages.success(request, f"{pour} {SAID[act]}.")
