"""Take-off rules: read by planners, fitted to the gear by the yard manager."""

from __future__ import annotations

import django_tables2 as tables
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.forms.filters import ListFilter
from inventory.models.roles import Role, roles_of
from inventory.views.access import allow
from inventory.views.listing import NUMBER, ListPage, ListTable
from jobs.forms.rules import RuleForm
from jobs.models import TakeOffRule
from jobs.services.inserts import keep_all_inserts
from jobs.views.jobs import PLANNERS
from jobs.views.one_form import one_form


class RuleTable(ListTable):
    name = tables.Column(linkify=("take-off-rule", {"pk": tables.A("pk")}), verbose_name="Rule")
    quantity = tables.Column(attrs=NUMBER)
    spacing_mm = tables.Column(attrs=NUMBER)
    spare_percent = tables.Column(attrs=NUMBER)

    class Meta(ListTable.Meta):
        model = TakeOffRule
        fields = ("name", "what", "type", "per", "levels", "quantity", "spacing_mm", "spare_percent", "used_up", "off")


class RuleFilter(ListFilter):
    search_fields = ("name__icontains", "what__icontains")
    search_label = "Rule or what it counts"

    class Meta:
        model = TakeOffRule
        fields = ["per", "levels", "off"]


@allow(*PLANNERS)
class RuleList(ListPage):
    title = "Take-off rules"
    template_name = "jobs/rules.html"
    table_class = RuleTable
    filter_class = RuleFilter
    export_name = "take-off-rules"
    order = ("name",)
    empty_heading = "No rules"
    empty_sentence = "Without rules a cut list holds runs of edge form and nothing else."

    def rows(self) -> QuerySet:
        return TakeOffRule.objects.select_related("type")


@allow(Role.MANAGER)
def new(request: HttpRequest) -> HttpResponse:
    return _edit(request, TakeOffRule(), "A new take-off rule")


@allow(*PLANNERS, write=[Role.MANAGER])
def rule(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(TakeOffRule, pk=pk)
    return _edit(request, found, f"Rule {found.name}")


def _edit(request: HttpRequest, row: TakeOffRule, title: str) -> HttpResponse:
    form = RuleForm(request.POST or None, instance=row)

    def does() -> tuple[str, str]:
        keep_all_inserts()
        kept = form.save()
        return f"Rule {kept.name} is kept. Cut lists follow it from now on.", reverse("take-off-rules")

    read_only = Role.MANAGER not in roles_of(request.user)
    for field in form.fields.values():
        field.disabled = read_only
    more = {"up": reverse("take-off-rules"), "up_words": "Take-off rules", "rule": True, "read_only": read_only}
    return one_form(request, form, does, title=title, press="Keep this rule", **more)
