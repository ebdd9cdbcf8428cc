"""Inspections due and overdue."""

from __future__ import annotations

from typing import Any

import django_filters
import django_tables2 as tables
from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from inventory.forms.gear_filter import GearFilter
from inventory.models import Piece
from inventory.models.roles import Role
from inventory.selectors import upkeep as select
from inventory.tags import code as tag_code
from inventory.views.access import allow
from inventory.views.listing import NUMBER, DayColumn, ListPage, ListTable
from inventory.views.markup import status
from inventory.views.summed import as_of

CREW = (Role.HAND, Role.SITE_LEAD, Role.MANAGER)


class InspectionTable(ListTable):
    label = tables.Column(linkify=("piece", {"pk": tables.A("pk")}), verbose_name="Tag")
    type = tables.Column(accessor="type__name", verbose_name="Type")
    due = tables.Column(verbose_name="Inspection")
    where = tables.Column(empty_values=(), orderable=False)
    inspected = DayColumn(verbose_name="Last inspected", default="never recorded")
    since_inspected = tables.Column(verbose_name="Uses since", attrs=NUMBER)
    every_uses = tables.Column(accessor="type__inspect_every_uses", verbose_name="Every (uses)", attrs=NUMBER)
    every_days = tables.Column(accessor="type__inspect_every_days", verbose_name="Every (days)", attrs=NUMBER)

    class Meta(ListTable.Meta):
        model = Piece
        fields = ("label", "type", "due", "where", "inspected", "since_inspected", "every_uses", "every_days")

    def render_label(self, value: str) -> str:
        return tag_code.format(value)

    def render_due(self, value: int) -> str:
        return status(_word(value))

    def value_due(self, value: int) -> str:
        return _word(value)

    def render_where(self, record: Piece) -> str:
        return str(record.place or (f"docket {record.docket}" if record.docket else ""))


def _word(due: int) -> str:
    return "overdue" if due == select.OVERDUE else "due"


class InspectionFilter(GearFilter):
    due = django_filters.ChoiceFilter(
        choices=[(select.OVERDUE, "overdue"), (select.DUE, "due")], empty_label="any", label="Inspection"
    )

    class Meta(GearFilter.Meta):
        fields = ["due", "place", "type"]


@allow(*CREW)
class InspectionList(ListPage):
    title = "Inspections"
    template_name = "gear/inspections.html"
    table_class = InspectionTable
    filter_class = InspectionFilter
    export_name = "inspections"
    order = ("-due", "type")
    empty_heading = "Nothing is due"
    empty_sentence = (
        "Gear whose type carries an inspection interval, in uses or in days, stands here when its time has come."
    )

    def rows(self) -> QuerySet:
        return select.inspections(timezone.localdate())

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        summed = as_of()
        counts = {"overdue": Count("pk", Q(due=select.OVERDUE)), "coming": Count("pk", Q(due=select.DUE))}
        standing = self.rows().order_by().aggregate(**counts)
        more = {"unset": select.types_without_interval(), "intervals": len(select.types_to_inspect())}
        return super().get_context_data(**summed, **standing, **more, **kwargs)
