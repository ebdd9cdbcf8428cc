"""The pours and the panels of one job as lists: searched, narrowed, sorted, paged, exported."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from functools import cached_property
from typing import Any

import django_filters
import django_tables2 as tables
from django.db.models import Count, F, QuerySet
from django.db.models.functions import Coalesce
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.html import format_html

from inventory.forms.filters import ListFilter
from inventory.views.access import allow, may
from inventory.views.listing import NUMBER, DayColumn, ListPage, ListTable
from inventory.views.markup import both_ways, metres, status
from jobs.models import Job, Panel, Pour
from jobs.planning.pours import PourDays
from jobs.selectors.pours import cast_pours, job_calendar, pour_days_given, pour_times
from jobs.views.jobs import LOOKERS

TO_CAST, CAST = "to cast", "cast"
STATES = [(TO_CAST, TO_CAST), (CAST, CAST)]


def _cast_word(cast: bool) -> str:
    return status("cast", "good") if cast else status(TO_CAST)


class _Days:
    """The days of pours, each worked out once and only for those that are shown."""

    def __init__(self, job: Job) -> None:
        self.calendar, self.times = job_calendar(job), pour_times(job)
        self.known: dict[int, PourDays] = {}

    def of(self, pour: Pour) -> PourDays:
        if pour.pk not in self.known:
            self.known[pour.pk] = pour_days_given(pour, self.times, self.calendar)
        return self.known[pour.pk]


class PourTable(ListTable):
    name = tables.Column(verbose_name="Pour")
    panel_count = tables.Column(verbose_name="Panels", attrs=NUMBER)
    set = tables.Column(empty_values=(), orderable=False, verbose_name="Set")
    cast_on = DayColumn(verbose_name="Cast")
    strip = tables.Column(empty_values=(), orderable=False, verbose_name="Strip from")
    free = tables.Column(empty_values=(), orderable=False, verbose_name="Free")
    state = tables.Column(empty_values=(), orderable=False)

    class Meta(ListTable.Meta):
        model = Pour
        fields = ("name", "panel_count", "set", "cast_on", "strip", "free", "state")

    days: _Days
    cast: Mapping[str, datetime]
    request: HttpRequest

    def render_name(self, record: Pour) -> str:
        user, shown = self.request.user, format_html("{}", record.name)
        if may(user, "pour-sheet", record.pk):
            shown = format_html('<a href="{}">{}</a>', reverse("pour-sheet", args=[record.pk]), record.name)
        if record.name not in self.cast and may(user, "pour-move", record.pk):
            shown += format_html(' <a href="{}">move {}</a>', reverse("pour-move", args=[record.pk]), record.name)
        return shown

    def value_name(self, record: Pour) -> str:
        return record.name

    def render_panel_count(self, record: Pour, value: int) -> str:
        url = f"{reverse('job-panels', args=[record.job_id])}?pour={record.pk}"
        return format_html('<a href="{}">{}<span class="unseen"> panels of {}</span></a>', url, value, record.name)

    def value_panel_count(self, value: int) -> int:
        return value

    def render_set(self, record: Pour) -> str:
        return both_ways(self.days.of(record).set)

    def value_set(self, record: Pour) -> Any:
        return self.days.of(record).set

    def render_strip(self, record: Pour) -> str:
        return both_ways(self.days.of(record).strip)

    def value_strip(self, record: Pour) -> Any:
        return self.days.of(record).strip

    def render_free(self, record: Pour) -> str:
        return both_ways(self.days.of(record).free)

    def value_free(self, record: Pour) -> Any:
        return self.days.of(record).free

    def render_state(self, record: Pour) -> str:
        return _cast_word(record.name in self.cast)

    def value_state(self, record: Pour) -> str:
        return CAST if record.name in self.cast else TO_CAST


class _OfJob(ListPage):
    """A list that hangs from a job."""

    template_name = "jobs/of_job.html"
    noun, nouns = "", ""

    @cached_property
    def job(self) -> Job:
        return get_object_or_404(Job.objects.select_related("customer"), pk=self.kwargs["pk"])

    @cached_property
    def cast(self) -> Mapping[str, datetime]:
        return cast_pours(self.job)

    @property
    def title(self) -> str:  # type: ignore[override]
        return f"{self.nouns} of {self.job.code}"

    @property
    def export_name(self) -> str:  # type: ignore[override]
        return f"{self.nouns.lower()}-{self.job.code}"

    @cached_property
    def filterset(self) -> Any:
        found = super().filterset
        found.cast = list(self.cast)
        return found

    def counts(self) -> tuple[int, int]:
        """How many there are in all, and how many of them are cast."""
        raise NotImplementedError

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        total, cast = self.counts()
        more = {"job": self.job, "total": total, "cast": cast, "to_cast": total - cast}
        more |= {"noun": self.noun, "nouns": self.nouns.lower()}
        return super().get_context_data(**(more | kwargs))


class PourFilter(ListFilter):
    search_fields = ("name__icontains", "panels__mark__icontains")
    search_label = "Pour or panel"
    state = django_filters.ChoiceFilter(choices=STATES, method="in_state", empty_label="any", label="State")
    level = django_filters.NumberFilter(method="on_level", label="Level")
    cast: list[str]

    class Meta:
        model = Pour
        fields = {"cast_on": ["gte", "lte"]}

    def in_state(self, rows: QuerySet, _name: str, value: str) -> QuerySet:
        return rows.filter(name__in=self.cast) if value == CAST else rows.exclude(name__in=self.cast)

    def on_level(self, rows: QuerySet, _name: str, value: Any) -> QuerySet:
        return rows.filter(pk__in=Panel.objects.filter(level=value).order_by().values("pour"))


@allow(*LOOKERS)
class PourList(_OfJob):
    table_class = PourTable
    filter_class = PourFilter
    noun, nouns = "pour", "Pours"
    order = ("cast_on", "name")
    empty_heading = "No pours yet"
    empty_sentence = "Panels and pours come from the panel schedule."

    def rows(self) -> QuerySet:
        return self.job.pours.annotate(panel_count=Count("panels"))

    def counts(self) -> tuple[int, int]:
        return self.job.pours.count(), len(self.cast)

    @cached_property
    def table(self) -> tables.Table:
        found = super().table
        found.days, found.cast = _Days(self.job), self.cast
        return found


class PanelTable(ListTable):
    mark = tables.Column(linkify=("panel", {"pk": tables.A("pk")}), verbose_name="Panel")
    size = tables.Column(empty_values=(), orderable=False, verbose_name="Size")
    thickness_mm = tables.Column(verbose_name="Thickness", attrs=NUMBER)
    section = tables.Column(verbose_name="Section", attrs=NUMBER)
    stack = tables.Column()
    level = tables.Column(attrs=NUMBER)
    pour = tables.Column(accessor="pour__name")
    cast_on = DayColumn(accessor="pour__cast_on", verbose_name="Cast")
    state = tables.Column(empty_values=(), orderable=False)

    class Meta(ListTable.Meta):
        model = Panel
        fields = ("mark", "size", "thickness_mm", "section", "stack", "level", "pour", "cast_on", "state")

    cast: Mapping[str, datetime]

    def render_size(self, record: Panel) -> str:
        return f"{metres(record.width_mm or 0)} x {metres(record.height_mm or 0)}"

    def value_size(self, record: Panel) -> str:
        return f"{record.width_mm} x {record.height_mm}"

    def render_thickness_mm(self, value: int) -> str:
        return f"{value} mm"

    def value_thickness_mm(self, value: int) -> int:
        return value

    render_section, value_section = render_thickness_mm, value_thickness_mm

    def render_state(self, record: Panel) -> str:
        return _cast_word(record.pour.name in self.cast)

    def value_state(self, record: Panel) -> str:
        return CAST if record.pour.name in self.cast else TO_CAST


def _pours_of(request: HttpRequest | None) -> QuerySet:
    """The pours of the job that the list hangs from."""
    match = request.resolver_match if request is not None else None
    return Pour.objects.filter(job=match.kwargs["pk"]) if match is not None else Pour.objects.none()


class PanelFilter(ListFilter):
    search_fields = ("mark__icontains", "stack__icontains")
    search_label = "Panel or stack"
    pour = django_filters.ModelChoiceFilter(queryset=_pours_of, empty_label="any", label="Pour")
    state = django_filters.ChoiceFilter(choices=STATES, method="in_state", empty_label="any", label="State")
    section = django_filters.NumberFilter(label="Section (mm)")
    cast: list[str]

    class Meta:
        model = Panel
        fields = {"level": ["exact"]}

    def in_state(self, rows: QuerySet, _name: str, value: str) -> QuerySet:
        return rows.filter(pour__name__in=self.cast) if value == CAST else rows.exclude(pour__name__in=self.cast)


@allow(*LOOKERS)
class PanelList(_OfJob):
    table_class = PanelTable
    filter_class = PanelFilter
    noun, nouns = "panel", "Panels"
    order = ("stack", "level", "mark")
    empty_heading = "No panels yet"
    empty_sentence = "Panels come from the panel schedule."

    def rows(self) -> QuerySet:
        return self.job.panels.select_related("pour").annotate(section=Coalesce(F("section_mm"), F("thickness_mm")))

    def counts(self) -> tuple[int, int]:
        return self.job.panels.count(), self.job.panels.filter(pour__name__in=list(self.cast)).count()

    @cached_property
    def table(self) -> tables.Table:
        found = super().table
        found.cast = self.cast
        return found
