"""The programme: all jobs on one calendar and one stock, and what would break before it does."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import mark_safe

from inventory.views.access import allow
from jobs.forms.programme import WhatIfForm
from jobs.models import Job
from jobs.planning.fleet import Fleet, breaks
from jobs.selectors.fleet import (
    Programme,
    WhatIf,
    new_breaks,
    programme,
    section_levels,
    slacks,
    supposed,
    type_rows,
)
from jobs.views.jobs import LOOKERS
from jobs.views.programme_chart import calendar_chart, steps_chart


@allow(*LOOKERS)
def page(request: HttpRequest) -> HttpResponse:
    """GET alone: what is supposed stands in the address, and nothing is ever written."""
    found = programme(timezone.localdate())
    slack = slacks(found)
    form = WhatIfForm(request.GET or None, returns=[one.back for one in slack])
    what = WhatIf(**form.cleaned_data) if form.is_bound and form.is_valid() else WhatIf()
    fleet = supposed(found, what) if what.words else found.fleet
    context = {
        "title": "Programme",
        "found": found,
        "form": form,
        "what": what,
        "worse": new_breaks(found, fleet) if what.words else [],
        "slacks": slack,
        "jobs": {bar.job.code: bar.job for bar in found.bars},
    }
    return render(request, "jobs/programme.html", context | _pictures(request, found, fleet))


def _pictures(request: HttpRequest, found: Programme, fleet: Fleet) -> dict[str, Any]:
    rows, broken = type_rows(found, fleet), breaks(fleet, found.today, found.until)
    sections = sorted({row.type.section_mm for row in rows if row.type.section_mm})
    asked = request.GET.get("section", "")
    section = int(asked) if asked.isdigit() and int(asked) in sections else (sections[0] if sections else None)
    # Our own drawings: every text in them is escaped as it is drawn.
    chart = mark_safe(steps_chart(section_levels(rows, section), section, found)) if section else ""
    return {
        "rows": rows,
        "broken": broken,
        "sections": sections,
        "section": section,
        "chart": chart,
        "calendar": mark_safe(calendar_chart(found, broken)),
        "stages": Job.Stage,
    }
