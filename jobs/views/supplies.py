"""What the remedies draw on: supplies to buy or hire from, mill bars, and gear asked back from other jobs."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

import django_filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import QuerySet
from django.forms import ModelForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.html import format_html

from inventory.forms.filters import ListFilter
from inventory.models import YardSettings
from inventory.views.access import allow
from inventory.views.listing import NUMBER, DayColumn, ListPage, ListTable
from inventory.views.markup import tally
from inventory.views.who import person_of
from jobs.currencies import amount_words
from jobs.forms.supplies import ChaseForm, MillBarForm, SupplyForm, SupplyOrdersForm
from jobs.models import Chase, Job, MillBar, Supply
from jobs.planning.remedies.left import Left
from jobs.planning.remedies.words import listed
from jobs.selectors.chases import AskedBack, leave_by
from jobs.selectors.supplies import left_of, orders_of, tickable
from jobs.services.checking import ask_check
from jobs.services.supplies import count_orders, keep_promise
from jobs.tasks import answer_cover_check
from jobs.views.jobs import LOOKERS, PLANNERS
from jobs.views.one_form import one_form
from jobs.views.supply_words import left_words, standing_words


class PriceColumn(tables.Column):
    """A cost in the yard's currency; its bare number in a file."""

    def __init__(self) -> None:
        super().__init__(attrs=NUMBER)

    @cached_property
    def _currency(self) -> str:
        return YardSettings.current().currency

    def render(self, value: Decimal) -> str:
        return amount_words(value, self._currency)

    def value(self, value: Decimal) -> Decimal:
        return value


class MostColumn(tables.Column):
    """So many can be had, or any number; the bare number in a file."""

    def __init__(self) -> None:
        super().__init__(attrs=NUMBER, verbose_name="How many", empty_values=())

    def render(self, value: int | None) -> str:
        return "any number" if value is None else f"{value:,}"

    def value(self, value: int | None) -> int | None:
        return value


class LeftColumn(tables.Column):
    """How many can still be had once orders are taken off; in a file, how many today."""

    def __init__(self) -> None:
        super().__init__(verbose_name="Still to be had", empty_values=(), orderable=False)

    @cached_property
    def _left(self) -> dict[int, Left]:
        return left_of(Supply.objects.all())

    def render(self, record: Supply) -> str:
        return left_words(self._left[record.pk], timezone.localdate())

    def value(self, record: Supply) -> int | None:
        return next((count for _, count in self._left[record.pk].steps(timezone.localdate())), None)


class SupplyTable(ListTable):
    type = tables.Column(linkify=("supply", {"pk": tables.A("pk")}))
    cost = PriceColumn()
    lead_days = tables.Column(attrs=NUMBER, verbose_name="Working days until here")
    most = MostColumn()
    left = LeftColumn()

    class Meta(ListTable.Meta):
        model = Supply
        fields = ("type", "way", "cost", "lead_days", "most", "left", "note")

    def render_cost(self, value: Decimal, record: Supply, column: PriceColumn) -> str:
        return column.render(value) + (" a day" if record.way == Supply.Way.HIRE else "")

    def value_cost(self, value: Decimal) -> Decimal:
        return value


class SupplyFilter(ListFilter):
    search_fields = ("type__code__icontains", "type__name__icontains", "note__icontains")
    search_label = "Type or note"

    class Meta:
        model = Supply
        fields = ["way"]


@allow(*PLANNERS)
class SupplyList(ListPage):
    title = "To buy or hire in"
    template_name = "jobs/supplies.html"
    table_class = SupplyTable
    filter_class = SupplyFilter
    export_name = "supplies"
    order = ("type",)
    empty_heading = "Nothing is listed"
    empty_sentence = "What is not listed is reckoned at its replacement value, and taken to be here in time."
    extra_context = {"new": "supply-new", "new_words": "List a supply"}

    def rows(self) -> QuerySet:
        return Supply.objects.select_related("type")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        found = Counter(Supply.objects.order_by().values_list("way", flat=True))
        said = [
            tally(found[way], f"supply {words}", f"supplies {words}", f"?{urlencode({'way': way})}")
            for way, words in ((Supply.Way.BUY, "to buy from"), (Supply.Way.HIRE, "to hire in from"))
        ]
        rest = "What is not listed is reckoned at its replacement value, and taken to be here in time."
        sentence = format_html("{} and {} are listed. {}", *said, rest)
        return super().get_context_data(standing=sentence if found else "", **kwargs)


class MillBarTable(ListTable):
    section_mm = tables.Column(linkify=("mill-bar", {"pk": tables.A("pk")}), verbose_name="Section (mm)")
    length_mm = tables.Column(attrs=NUMBER, verbose_name="Length (mm)")
    cost = PriceColumn()
    count = MostColumn()
    lead_days = tables.Column(attrs=NUMBER, verbose_name="Working days until ready")

    class Meta(ListTable.Meta):
        model = MillBar
        fields = ("section_mm", "length_mm", "cost", "count", "lead_days")

    def render_length_mm(self, value: int) -> str:
        return f"{value:,}"

    def value_length_mm(self, value: int) -> int:
        return value


class MillBarFilter(ListFilter):
    search_fields = ("section_mm__startswith",)
    search_label = "Section"

    class Meta:
        model = MillBar
        fields: list[str] = []


@allow(*PLANNERS)
class MillBarList(ListPage):
    title = "Mill bars"
    template_name = "jobs/supplies.html"
    table_class = MillBarTable
    filter_class = MillBarFilter
    export_name = "mill-bars"
    order = ("section_mm", "length_mm")
    empty_heading = "No bars are listed"
    empty_sentence = "Bars as the mill sells them. With them listed, a short job says which to cut new forms from."
    extra_context = {"new": "mill-bar-new", "new_words": "List a bar"}

    def rows(self) -> QuerySet:
        return MillBar.objects.all()

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        bars = list(MillBar.objects.order_by("section_mm").values_list("section_mm", flat=True))
        sections = listed([str(section) for section in dict.fromkeys(bars)])
        sentence = format_html(
            "{} for section {} mm. A job that is short of forms says which of them to cut new ones from.",
            tally(len(bars), "length of bar is listed", "lengths of bar are listed", "?"),
            sections,
        )
        return super().get_context_data(standing=sentence if bars else "", **kwargs)


class ChaseTable(ListTable):
    holder = tables.Column(linkify=("chase", {"pk": tables.A("pk")}), verbose_name="Asked back from")
    wanted_for = tables.Column(verbose_name="Wanted for")
    lines = tables.Column(orderable=False, verbose_name="What")
    by_day = DayColumn(verbose_name="In the yard by")
    promised_on = DayColumn(verbose_name="Promised for")
    settled_at = DayColumn(verbose_name="Settled")

    def render_lines(self, value: list[dict[str, Any]]) -> str:
        return ", ".join(f"{line['count']} x {line['code']}" for line in value)

    def value_lines(self, value: list[dict[str, Any]]) -> str:
        return self.render_lines(value)

    class Meta(ListTable.Meta):
        model = Chase
        fields = ("holder", "wanted_for", "lines", "by_day", "promised_on", "settled_at")


class ChaseFilter(ListFilter):
    search_fields = ("holder__code__icontains", "wanted_for__code__icontains")
    search_label = "Job"
    settled = django_filters.BooleanFilter(field_name="settled_at", lookup_expr="isnull", exclude=True, label="Settled")

    class Meta:
        model = Chase
        fields: list[str] = []


@allow(*LOOKERS, write=PLANNERS)
class ChaseList(ListPage):
    title = "Asked back"
    template_name = "jobs/supplies.html"
    table_class = ChaseTable
    filter_class = ChaseFilter
    export_name = "asked-back"
    order = ("by_day",)
    empty_heading = "Nothing is asked back"
    empty_sentence = "Gear that one job holds and another waits for, once it is marked on a short cover check."

    def rows(self) -> QuerySet:
        return Chase.objects.select_related("holder", "wanted_for")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        open_ones = Chase.objects.filter(settled_at=None)
        count, silent = open_ones.count(), open_ones.filter(promised_on=None).count()
        sentence = format_html(
            "{} still open{}. What is asked back counts from the day promised, once the job is checked again.",
            tally(count, "asking is", "askings are", "?settled=false"),
            f"; for {silent} of them the site has promised no day yet" if silent else "",
        )
        return super().get_context_data(standing=sentence if Chase.objects.exists() else "", **kwargs)


@allow(*PLANNERS)
def supply(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """What it costs and how many there are; and, once listed, which orders are taken off."""
    if not pk:
        return _listed(request, SupplyForm(request.POST or None, instance=Supply()), "supplies", "To buy or hire in")
    row = get_object_or_404(Supply.objects.select_related("type"), pk=pk)
    today, left = timezone.localdate(), left_of([row])[row.pk]
    orders = orders_of(row, today)
    shown = {"supply": row, "orders": orders, "hired": row.way == Supply.Way.HIRE}
    shown["lead"] = standing_words(row, left, orders, today)
    form = SupplyForm(request.POST or None, instance=row)
    return _listed(request, form, "supplies", "To buy or hire in", template="jobs/supply.html", **shown)


@allow(*PLANNERS)
def supply_orders(request: HttpRequest, pk: int) -> HttpResponse:
    """What was put on order by hand says nothing of where it is from: it is said here."""
    row = get_object_or_404(Supply.objects.select_related("type"), pk=pk)
    open_ones, up = tickable(row), reverse("supply", args=[pk])
    form = SupplyOrdersForm(open_ones, request.POST or None)

    def does() -> tuple[str, str]:
        count_orders(supply=row, orders=form.cleaned_data["orders"])
        return "It is kept. Remedies worked out before may be out of date.", up

    title = f"Which orders of {row.type.name} are from it"
    lead = "" if open_ones else "No order of this type is open, or each is from another supply."
    return one_form(request, form, does, title=title, lead=lead, press="Keep it", up=up, up_words="The supply")


@allow(*PLANNERS)
def mill_bar(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    row = get_object_or_404(MillBar, pk=pk) if pk else MillBar()
    return _listed(request, MillBarForm(request.POST or None, instance=row), "mill-bars", "Mill bars")


def _listed(request: HttpRequest, form: ModelForm, back: str, back_words: str, **shown: Any) -> HttpResponse:
    def does() -> tuple[str, str]:
        form.save()
        return "It is kept. Remedies worked out before may be out of date.", reverse(back)

    title = "Change what is listed" if form.instance.pk else f"{back_words}: one more"
    return one_form(request, form, does, title=title, press="Keep it", up=reverse(back), up_words=back_words, **shown)


@allow(*LOOKERS, write=PLANNERS)
def chase(request: HttpRequest, pk: int) -> HttpResponse:
    """What the site promised: until then its gear counts as before. A job still to be decided on is checked with it."""
    found = get_object_or_404(Chase.objects.select_related("holder", "wanted_for"), pk=pk)
    form = ChaseForm(request.POST or None, instance=found, initial={"settled": found.settled_at is not None})
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        keep_promise(chase=found, promised_on=said["promised_on"], settled=said["settled"], now=timezone.now())
        job = found.wanted_for
        if said["promised_on"] and not said["settled"] and job.stage == Job.Stage.ASKED:
            check = ask_check(job=job, by=person_of(request))
            answer_cover_check.enqueue(check.pk)
            messages.success(request, f"Kept. {job.code} is checked again with it.")
            return redirect("check", check.pk)
        messages.success(request, f"Kept. A cover check of {job.code} counts on it when asked again.")
        return redirect("chases")
    today = timezone.localdate()
    asked = AskedBack(found, leave_by(found, today), today)
    context = {"title": f"Asked back from {found.holder.code}", "form": form, "chase": found, "asked": asked}
    return render(request, "jobs/chase.html", context)
