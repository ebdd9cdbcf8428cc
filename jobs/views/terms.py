"""Hire terms: what the yard, a customer or a job has agreed, new ones from a day on, and corrections."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from inventory.forms.filters import ListFilter
from inventory.models.roles import Role
from inventory.views.access import allow
from inventory.views.listing import DayColumn, ListPage, ListTable
from inventory.views.who import person_of
from jobs.errors import Refused
from jobs.forms.terms import LISTS, TermsForm
from jobs.models import Customer, HireTerms, Job
from jobs.services.hire_terms import from_catalogue, record_terms

DESK = (Role.HIRE_DESK, Role.MANAGER)
LOOKERS = (*DESK, Role.PLANNER)
NONE = "none"


class TermsTable(ListTable):
    name = tables.Column(linkify=("terms-one", {"pk": tables.A("pk")}), verbose_name="Terms")
    scope = tables.Column(verbose_name="For", orderable=False)
    holds_from = DayColumn(verbose_name="Hold from", empty_values=())
    replaced = tables.Column(accessor="replaced_by__name", verbose_name="Corrected by", default="")
    recorded_at = DayColumn(verbose_name="Recorded")

    def render_holds_from(self, value: Any) -> Any:
        return DayColumn().render(value) if value else "the beginning"

    class Meta(ListTable.Meta):
        model = HireTerms
        fields = ("name", "scope", "holds_from", "replaced", "recorded_at", "agreed_by")


class TermsFilter(ListFilter):
    search_fields = ("name__icontains", "customer__name__icontains", "job__code__icontains")
    search_label = "Terms, customer or job"

    class Meta:
        model = HireTerms
        fields = {"customer": ["exact"], "job": ["exact"]}


@allow(*LOOKERS)
class TermsList(ListPage):
    title = "Hire terms"
    template_name = "hire/terms_list.html"
    table_class = TermsTable
    filter_class = TermsFilter
    export_name = "terms"
    order = ("-recorded_at",)
    empty_heading = "No hire terms yet"
    empty_sentence = "Enter the yard's own first: every job goes by them unless it or its customer has others."

    def rows(self) -> QuerySet:
        return HireTerms.objects.select_related("customer", "job", "replaced_by")


@allow(*LOOKERS)
def one(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(HireTerms.objects.select_related("customer", "job", "replaces", "recorded_by"), pk=pk)
    form = TermsForm(document=found.document)
    beside = ("name", "holds_from", "agreed_by", "public_holidays")
    rows = [(field.label, _said(field)) for field in form if field.name not in beside]
    corrected = HireTerms.objects.filter(replaces=found).first()
    context = {"title": found.name, "terms": found, "rows": rows, "corrected": corrected}
    return render(request, "hire/terms.html", context)


def _said(field: Any) -> str:
    """What was agreed, in the words of the form; "none" where nothing was."""
    value = field.value()
    if field.name in (*LISTS, "grades"):
        return str(field.field.prepare_value(value) or NONE)
    choices = dict(getattr(field.field, "choices", ()) or ())
    return str(choices.get(value, NONE if value in (None, "") else value))


@allow(*DESK)
def new(request: HttpRequest) -> HttpResponse:
    """For the yard, or for ?customer= or ?job=; starting from ?like= or from the catalogue's own rates."""
    customer = Customer.objects.filter(pk=_number(request, "customer")).first()
    job = Job.objects.filter(pk=_number(request, "job")).first()
    like = HireTerms.objects.filter(pk=_number(request, "like")).first() or HireTerms.objects.order_by("-pk").first()
    whose = f"job {job}" if job else customer.name if customer else "the yard"
    form = TermsForm(request.POST or None, document=like.document if like else from_catalogue())
    if request.method == "POST" and form.is_valid():
        return _keep(request, form, customer=None if job else customer, job=job)
    return _page(request, form, f"New terms for {whose}", "Record these terms", reverse("terms"), "Hire terms")


@allow(*DESK)
def correct(request: HttpRequest, pk: int) -> HttpResponse:
    wrong = get_object_or_404(HireTerms.objects.select_related("customer", "job"), pk=pk)
    initial = {"name": f"{wrong.name}, corrected"[:80], "holds_from": wrong.holds_from, "agreed_by": wrong.agreed_by}
    form = TermsForm(request.POST or None, document=wrong.document, initial=initial)
    if request.method == "POST" and form.is_valid():
        return _keep(request, form, replaces=wrong)
    up = reverse("terms-one", args=[pk])
    return _page(request, form, f"Correct {wrong.name}", "Record the correction", up, wrong.name)


def _number(request: HttpRequest, name: str) -> int:
    said = request.GET.get(name, "")
    return int(said) if said.isdigit() else 0


def _keep(request: HttpRequest, form: TermsForm, **scope: Any) -> HttpResponse:
    said = form.cleaned_data
    try:
        kept = record_terms(
            name=said["name"],
            document=said["document"],
            holds_from=said["holds_from"],
            agreed_by=said["agreed_by"],
            by=person_of(request),
            **scope,
        )
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("terms")
    messages.success(request, f"{kept.name} is recorded. Issued bills stay; what changes for them comes on the next.")
    return redirect("terms-one", kept.pk)


def _page(request: HttpRequest, form: TermsForm, title: str, press: str, up: str, up_words: str) -> HttpResponse:
    context = {"title": title, "form": form, "press": press, "up": up, "up_words": up_words}
    return render(request, "hire/form.html", context)
