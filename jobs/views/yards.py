"""How far our yards are apart: a load takes gear from the nearest."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from inventory.views.access import allow
from jobs.forms.yards import RoadsForm
from jobs.selectors.yards import pairs
from jobs.services.yards import keep_roads
from jobs.views.jobs import PLANNERS

LEAD = (
    "A pick list takes from the job's own yard first, then from the nearest. Leave empty what is not known: such a "
    "yard comes last. With one yard there is nothing to fill in."
)


@allow(*PLANNERS)
def roads(request: HttpRequest) -> HttpResponse:
    form = RoadsForm(request.POST or None, pairs=pairs())
    if request.method == "POST" and form.is_valid():
        keep_roads(form.roads)
        messages.success(request, "Kept. Pick lists made from now on take gear from the nearest yard.")
        return redirect("yard-roads")
    context = {
        "title": "How far the yards are apart",
        "form": form,
        "press": "Keep it",
        "lead": LEAD,
        "up": reverse("programme"),
        "up_words": "Programme",
    }
    return render(request, "jobs/form.html", context)
