"""The setting-out sheet of a pour or of a level, to print and to read on a phone; and the pick list of a truck."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.safestring import mark_safe

from inventory.lifecycle.kinds import GroupKind
from inventory.models import Docket, YardSettings
from inventory.models.roles import Role
from inventory.selectors.pour_codes import gear_ready_for
from inventory.services.tagging import tag_of_place, tags_of_places
from inventory.tags import code as tag_code
from inventory.views.access import allow
from inventory.views.code_drawing import draw_code
from jobs.errors import Refused
from jobs.models import Delivery, Job, Pour
from jobs.selectors.held_elsewhere import say_who_holds
from jobs.selectors.picks import pick_list, whole_crates
from jobs.selectors.pours import Programme, programme_of
from jobs.selectors.setting_out import PourSheet, setting_out, sheets_of
from jobs.services.picking import choose_tags
from jobs.views.jobs import LOOKERS

# A level of a large job is read and printed so many pours at a time.
POURS_A_PAGE = 12
SETTERS = (Role.SITE_LEAD, Role.MANAGER, Role.PLANNER, Role.HAND)


@allow(*SETTERS)
def sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """The sheet of one pour."""
    pour = get_object_or_404(Pour.objects.select_related("job__site", "job__yard", "place__parent"), pk=pk)
    programme = programme_of(pour.job)
    code = tag_of_place(pour.place, timezone.now())
    found = setting_out(pour, programme)
    settings = YardSettings.current()
    one = _shown(_base(request, settings), pour, code, found, programme)
    one["ways"] = None if pour.name in programme.cast or found.is_set else _ways(pour)
    context = {"title": f"Setting out {pour.name}", "job": pour.job, "pour": pour, "one": one}
    return render(request, "jobs/setting_out.html", context | {"lift_kg": settings.two_person_lift_kg})


@allow(*SETTERS)
def level(request: HttpRequest, pk: int, number: int) -> HttpResponse:
    """Every panel of one level of a job, pour by pour, each with the code that sets the whole of it."""
    job = get_object_or_404(Job.objects.select_related("site", "yard"), pk=pk)
    every = list(job.pours.order_by("cast_on", "name").select_related("place").prefetch_related("panels"))
    levels = {pour.pk: {panel.level for panel in pour.panels.all()} for pour in every}
    pours = [pour for pour in every if number in levels[pour.pk]]
    if not pours:
        raise Http404(f"{job} has no panel on level {number}.")
    programme, paginator = programme_of(job, every), Paginator(pours, POURS_A_PAGE)
    page = paginator.get_page(request.GET.get("page"))
    pours = list(page.object_list)
    sheets = sheets_of(job, pours, programme, number)
    settings = YardSettings.current()
    codes, base = tags_of_places([pour.place_id for pour in pours], timezone.now()), _base(request, settings)
    context = {
        "title": f"Setting out level {number}",
        "job": job,
        "number": number,
        "levels": sorted(set().union(*levels.values())),
        "shown": [
            _shown(base, pour, codes[pour.place_id], found, programme)
            for pour, found in zip(pours, sheets, strict=True)
        ],
        "panels": sum(panel.level == number for pour in every for panel in pour.panels.all()),
        "page": page,
        "paginator": paginator,
        "bare": all(found.bare for found in sheets),
    }
    return render(request, "jobs/level_sheet.html", context | {"lift_kg": settings.two_person_lift_kg})


def _base(request: HttpRequest, settings: YardSettings) -> str:
    """What codes on paper lead to."""
    return settings.tag_base or request.build_absolute_uri("/").rstrip("/")


def _shown(base: str, pour: Pour, code: str, found: PourSheet, programme: Programme) -> dict[str, Any]:
    """A pour's sheet with the code that stands for it."""
    return {
        "pour": pour,
        "days": programme.days[pour.name],
        "sheet": found,
        # Our own drawings: every text in them is escaped as it is drawn.
        "panels": [(panel, mark_safe(panel.drawing)) for panel in found.panels],
        "code": tag_code.format(code),
        "qr": mark_safe(draw_code(tag_code.address(base, code), f"Code of pour {pour.name}")),
        "ways": None,
    }


def _ways(pour: Pour) -> list[tuple[str, str]]:
    """Where its gear can come from, as the press takes it and in words."""
    ways = gear_ready_for(pour.place_id)
    dockets = Docket.objects.in_bulk([way.id for way in ways if way.kind == GroupKind.DOCKET])
    pours = {below.place_id: below for below in Pour.objects.filter(place__in=[way.id for way in ways])}
    found = [(f"docket:{pk}", f"docket {docket.number}") for pk, docket in dockets.items()]
    stripped = [pours[way.id] for way in ways if way.kind == GroupKind.POUR and way.id in pours]
    return found + [(f"pour:{below.pk}", f"{below.name}, stripped") for below in stripped]


@allow(*SETTERS)
def at(_request: HttpRequest, pk: int) -> HttpResponse:
    """Where the code on a pour's paper leads when a phone's own camera reads it."""
    return redirect("pour-sheet", get_object_or_404(Pour, place=pk).pk)


@allow(*LOOKERS, Role.HAND)
def of_docket(request: HttpRequest, pk: int) -> HttpResponse:
    """From a docket to the pick list it was opened from."""
    delivery = Delivery.objects.filter(docket=pk).first()
    if delivery is None:
        messages.info(request, "This docket was not opened from a load list: what is wanted stands on it by type.")
        return redirect("docket", pk)
    return redirect("delivery-picks", delivery.pk)


@allow(*LOOKERS, Role.HAND, write=[Role.PLANNER, Role.MANAGER, Role.HAND])
def picks(request: HttpRequest, pk: int) -> HttpResponse:
    """The load list by tag. A press chooses what is not chosen yet; the docket ticks it off."""
    rows = Delivery.objects.select_related("job__yard", "job__site", "docket")
    delivery = get_object_or_404(rows, pk=pk)
    if request.method == "POST":
        try:
            count = choose_tags(delivery=delivery)
            messages.success(
                request,
                f"{count:,} tag{'s' if count > 1 else ''} chosen." if count else "Nothing more could be chosen.",
            )
        except Refused as refused:
            messages.error(request, refused.sentence)
        return redirect("delivery-picks", pk)
    lines = pick_list(delivery)
    say_who_holds(delivery, lines, timezone.localdate())
    loadable = delivery.job.stage in {Job.Stage.ACCEPTED, Job.Stage.RUNNING} and not delivery.is_return
    context = {
        "title": f"Pick list for {delivery.job.code}",
        "delivery": delivery,
        "lines": lines,
        "may_open": loadable and delivery.wants_docket,
        "left": delivery.docket is not None and delivery.docket.left_at is not None,
        "chosen": any(line.picked for line in lines),
        "crates": whole_crates(lines),
        "wanted": sum(line.wanted for line in lines),
        "loaded": sum(min(line.loaded, line.wanted) for line in lines),
        "lacking": sum(line.lacking for line in lines if line.by_tag),
        "order": YardSettings.current().get_pick_order_display(),
    }
    return render(request, "jobs/picks.html", context)
