"""The programme: all jobs on one calendar and one stock, and what would break before it does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe

from inventory.models import GearType
from inventory.views.access import allow
from jobs.forms.programme import WhatIfForm, YardForm
from jobs.models import Job
from jobs.planning.fleet import Fleet, Slack, Waiting, breaks
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

# So many types stand on the page at once, and every one that breaks.
FIRST_TYPES = 12


@allow(*LOOKERS)
def page(request: HttpRequest) -> HttpResponse:
    """GET alone: what is supposed stands in the address, and nothing is ever written."""
    yards = YardForm(request.GET)
    yard, asked = (yards.cleaned_data["yard"], yards.cleaned_data["asked"]) if yards.is_valid() else (None, False)
    found = programme(timezone.localdate(), yard, with_asked=asked)
    slack = slacks(found)
    form = WhatIfForm(request.GET or None, returns=[one.back for one in slack])
    what = WhatIf(**form.cleaned_data) if form.is_bound and form.is_valid() else WhatIf()
    fleet = supposed(found, what) if what.words else found.fleet
    context = {
        "title": "Programme",
        "found": found,
        "form": form,
        "yards": yards,
        "what": what,
        "worse": new_breaks(found, fleet) if what.words else [],
        "slacks": _collecting(found, slack),
    }
    return render(request, "jobs/programme.html", context | _pictures(request, found, fleet))


@dataclass(frozen=True)
class Collected:
    """A return, and what of it to collect first, each with the list of the pieces that it may be."""

    slack: Slack
    first: tuple[tuple[Waiting, str], ...]


def _collecting(found: Programme, slack: Sequence[Slack]) -> list[Collected]:
    sites = {bar.job.code: bar.job.site_id for bar in found.bars}
    rows = []
    for one in slack:
        site = sites.get(one.back.job)
        rows.append(Collected(one, tuple((type_, _listed(found, site, type_.code)) for type_ in one.wanted)))
    return rows


def _listed(found: Programme, site: int | None, code: str) -> str:
    """The pieces of that type on the job's site, or its counted goods."""
    kind = found.types[code]
    name = "pieces" if kind.tracked == GearType.Tracked.BY_TAG else "counted-goods"
    query = {"place": site, "type": kind.pk} if site else {"type": kind.pk}
    return f"{reverse(name)}?{urlencode(query)}"


def _pictures(request: HttpRequest, found: Programme, fleet: Fleet) -> dict[str, Any]:
    rows, broken = type_rows(found, fleet), breaks(fleet, found.today, found.until)
    sections = sorted({row.type.section_mm for row in rows if row.type.section_mm})
    asked = request.GET.get("section", "")
    # Those that break stand first among the rows, then the thinnest: the section to look at.
    first = next((row.type.section_mm for row in rows if row.type.section_mm), None)
    section = int(asked) if asked.isdigit() and int(asked) in sections else first
    shown = max(FIRST_TYPES, sum(row.breaks for row in rows))
    # Our own drawings: every text in them is escaped as it is drawn.
    chart = mark_safe(steps_chart(section_levels(rows, section), section, found)) if section else ""
    return {
        "rows": rows[:shown],
        "more_rows": rows[shown:],
        "broken": broken,
        "sections": sections,
        "section": section,
        "chart": chart,
        "calendar": mark_safe(calendar_chart(found, broken)),
        "stages": Job.Stage,
        "has_asked": any(bar.job.stage == Job.Stage.ASKED for bar in found.bars),
    }
