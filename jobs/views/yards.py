"""How far our yards are apart: a load takes gear from the nearest."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from inventory.views.access import allow
from jobs.forms.yards import RoadsForm
from jobs.selectors.yards import pairs
from jobs.services.yards import keep_roads
from jobs.views.jobs import PLANNERS
from jobs.views.one_form import one_form

LEAD = (
    "A pick list takes from the job's own yard first, then from the nearest. Leave empty what is not known: such a "
    "yard comes last. With one yard there is nothing to fill in."
)


@allow(*PLANNERS)
def roads(request: HttpRequest) -> HttpResponse:
    form = RoadsForm(request.POST or None, pairs=pairs())

    def does() -> tuple[str, str]:
        keep_roads(form.roads)
        return "Kept. Pick lists made from now on take gear from the nearest yard.", reverse("yard-roads")

    back = {"up": reverse("programme"), "up_words": "Programme"}
    return one_form(request, form, does, title="How far the yards are apart", press="Keep it", lead=LEAD, **back)
