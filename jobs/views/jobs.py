"""Jobs: the list, one page for the life of each, and what is entered about it."""

from __future__ import annotations

from typing import Any

import django_filters
import django_tables2 as tables
from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.forms.filters import ListFilter
from inventory.models import Place
from inventory.models.roles import Role
from inventory.views.access import allow
from inventory.views.listing import NUMBER, DayColumn, ListPage, ListTable
from inventory.views.markup import status
from jobs.errors import Refused
from jobs.forms.jobs import JobForm, NewJobForm
from jobs.models import Job
from jobs.selectors.job_page import (
    AT_ONCE,
    SHOWN_POURS,
    looked_through,
    on_site,
    panel_counts,
    pour_rows,
    pours_in_order,
)
from jobs.selectors.pours import programme_of
from jobs.services.jobs import change_job, create_job
from jobs.services.stages import all_is_back, open_again
from jobs.views.one_form import one_form

LOOKERS = (Role.PLANNER, Role.MANAGER, Role.HIRE_DESK, Role.SITE_LEAD)
FLAGS_A_PAGE = 100
PLANNERS = (Role.PLANNER, Role.MANAGER)


class JobTable(ListTable):
    code = tables.Column(linkify=("job", {"pk": tables.A("pk")}), verbose_name="Job")
    starts_on = DayColumn(verbose_name="Starts")
    ends_on = DayColumn(verbose_name="Gear due back")
    panel_count = tables.Column(verbose_name="Panels", attrs=NUMBER)

    def render_stage(self, value: str) -> str:
        return status(value)

    def value_stage(self, value: str) -> str:
        return value

    class Meta(ListTable.Meta):
        model = Job
        fields = ("code", "name", "customer", "stage", "starts_on", "ends_on", "panel_count")


class JobFilter(ListFilter):
    search_fields = ("code__icontains", "name__icontains", "customer__name__icontains")
    search_label = "Job, name or customer"
    yard = django_filters.ModelChoiceFilter(queryset=Place.objects.yards(), label="Sent from")

    class Meta:
        model = Job
        fields = {"stage": ["exact"], "customer": ["exact"], "starts_on": ["gte", "lte"]}


@allow(*LOOKERS)
class JobList(ListPage):
    title = "Jobs"
    template_name = "jobs/jobs.html"
    table_class = JobTable
    filter_class = JobFilter
    export_name = "jobs"
    order = ("-starts_on",)
    empty_heading = "No jobs yet"
    empty_sentence = "Every job asked for, once entered with the press above; then its panel schedule."

    def rows(self) -> QuerySet:
        return Job.objects.select_related("customer").annotate(panel_count=Count("panels"))

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        counts = {"asked": Job.objects.asked().count(), "under_way": Job.objects.under_way().count()}
        return super().get_context_data(counts=counts, **kwargs)


@allow(*LOOKERS)
def job(request: HttpRequest, pk: int) -> HttpResponse:
    jobs = Job.objects.select_related("customer", "site", "yard").prefetch_related("pours")
    found = get_object_or_404(jobs, pk=pk)
    programme, counts = programme_of(found), panel_counts(found)
    pours, panels = pours_in_order(found, programme), counts.total
    cast = sum(pour.name in programme.cast for pour in pours)
    following = pours[0] if cast < len(pours) else None
    few = len(pours) <= SHOWN_POURS
    shown = sorted(pours, key=lambda pour: (pour.cast_on, pour.name)) if few else pours[:SHOWN_POURS]
    context = {
        "title": f"{found.code} {found.name}",
        "job": found,
        "rows": pour_rows(shown, programme, counts),
        "pours": len(pours),
        "cast": cast,
        "levels": counts.levels,
        "panels": panels,
        "next": following,
        "next_set": programme.days[following.name].set if following else None,
        "looked": looked_through(found, programme, timezone.localdate()) if panels <= AT_ONCE else None,
        "later": panels > AT_ONCE,
        "check": found.checks.first(),
        "deliveries": found.deliveries.select_related("docket").prefetch_related("lines__type"),
        "there": on_site(found),
    }
    return render(request, "jobs/job.html", context)


@allow(*LOOKERS)
def flags(request: HttpRequest, pk: int) -> HttpResponse:
    """What only a look at every panel tells, fetched after the page of a large job, or read by itself."""
    found = get_object_or_404(Job, pk=pk)
    looked = looked_through(found, programme_of(found), timezone.localdate())
    context = {"title": f"Flags of {found.code}", "job": found, "looked": looked}
    if getattr(request, "htmx", False):
        return render(request, "jobs/looked.html", context)
    paginator = Paginator(looked.flags, FLAGS_A_PAGE)
    page = paginator.get_page(request.GET.get("page")) if looked.flags else None
    return render(request, "jobs/flags.html", context | {"page": page, "paginator": paginator})


@allow(*PLANNERS)
def new(request: HttpRequest) -> HttpResponse:
    form = NewJobForm(request.POST or None, initial=dict(request.GET.items()))

    def does() -> tuple[str, str]:
        made = create_job(**form.cleaned_data)
        return f"{made} is entered. Bring in its panel schedule next.", reverse("job", args=[made.pk])

    back = {"up": reverse("jobs"), "up_words": "Jobs"}
    return one_form(request, form, does, title="A new job", press="Enter this job", **back)


@allow(*PLANNERS)
def change(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Job, pk=pk)
    form, its_page = JobForm(request.POST or None, instance=found), reverse("job", args=[pk])

    def does() -> tuple[str, str]:
        change_job(job=found, **form.cleaned_data)
        return f"{found} is changed. A cover check made before may be out of date now.", its_page

    more = {"figures": True, "up": its_page, "up_words": str(found)}
    return one_form(request, form, does, title=f"Change {found.code}", press="Keep these changes", **more)


@allow(*PLANNERS)
@require_POST
def end(request: HttpRequest, pk: int) -> HttpResponse:
    """All its gear is back, or that was said too early."""
    found = get_object_or_404(Job, pk=pk)
    try:
        if request.POST.get("press") == "open again":
            messages.info(request, f"{open_again(job=found)} is open again.")
        else:
            messages.success(request, f"{all_is_back(job=found)} is back. Nothing is reserved for it any more.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("job", pk)
