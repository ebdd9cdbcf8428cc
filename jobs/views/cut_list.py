"""The cut list as a table, and each panel drawn."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.safestring import mark_safe

from inventory.views.access import allow
from jobs.models import Job, Panel
from jobs.planning.drawing import draw_panel
from jobs.planning.runs import PanelRun
from jobs.planning.takeoff import PanelTakeoff
from jobs.selectors.cutlist import cut_list
from jobs.selectors.job_page import AT_ONCE, SHOWN_FLAGS, heaviest_first
from jobs.selectors.panels import reading_order
from jobs.selectors.planned import lengths_planned
from jobs.views.jobs import LOOKERS

POURS_A_PAGE = 50


@allow(*LOOKERS)
def table(request: HttpRequest, pk: int) -> HttpResponse:
    job = get_object_or_404(Job, pk=pk)
    found = cut_list(job, lengths_planned(job))
    panels = found.takeoff.panels
    # With the job, which Django looks up for each panel of a job.
    listed = job.panels.only("mark", "job") if len(panels) <= AT_ONCE else ()
    findings = heaviest_first(found.findings)
    paginator = Paginator(found.pours, POURS_A_PAGE)
    page = paginator.get_page(request.GET.get("page"))
    context = {
        "title": f"Cut list of {job.code}",
        "job": job,
        "cut": found,
        "count": len(panels),
        "panels": sorted(listed, key=lambda panel: reading_order(panel.mark)),
        "findings": findings if listed else findings[:SHOWN_FLAGS],
        "more_flags": 0 if listed else max(0, len(findings) - SHOWN_FLAGS),
        "page": page,
        "paginator": paginator,
        "pours": found.of_pours(set(page.object_list)),
    }
    return render(request, "jobs/cut_list.html", context)


@allow(*LOOKERS)
def panel(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Panel.objects.select_related("job", "pour"), pk=pk)
    takeoff = cut_list(found.job, lengths_planned(found.job), stacks=[found.stack]).takeoff
    items = {item.panel.mark: item for item in takeoff.panels}
    item = items[found.mark]
    below = next((low.panel for low in items.values() if low.above == found.mark), None)
    context = {
        "title": f"Panel {found.mark}",
        "panel": found,
        "item": item,
        # Our own drawing: every text in it is escaped as it is drawn.
        "drawing": mark_safe(draw_panel(item, below)),
        "runs": [(run, item.laid.get(run.key), _from_seat(run, item)) for run in item.runs],
        "findings": heaviest_first([finding for finding in takeoff.findings if finding.panel == found.mark]),
    }
    return render(request, "jobs/panel.html", context)


def _from_seat(run: PanelRun, item: PanelTakeoff) -> list[int]:
    return sorted(map(run.reckoning.of, item.brackets.get(run.key, ())))
