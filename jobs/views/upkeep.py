"""The cleaning queue and the repair queue, in the order in which the next loads need the gear."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import django_filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import F, OrderBy, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.html import format_html

from inventory.forms.filters import ListFilter
from inventory.forms.gear_filter import GearFilter
from inventory.models import Piece, Place, RepairOrder
from inventory.models.roles import Role
from inventory.services.cleaning import Doubt, clean_all
from inventory.services.repairs import cost_of
from inventory.tags import code as tag_code
from inventory.views.access import allow
from inventory.views.listing import NUMBER, DayColumn, ListPage, ListTable
from inventory.views.markup import status
from inventory.views.summed import as_of
from inventory.views.who import person_of
from jobs.forms.upkeep import CleanForm
from jobs.selectors import upkeep as select

CREW = (Role.HAND, Role.SITE_LEAD, Role.MANAGER)


def _soonest(descending: bool, then: str) -> list[Any]:
    """What a load waits for first, and what nothing waits for last, whichever way it is turned."""
    wanted: OrderBy = F("wanted_on").desc(nulls_last=True) if descending else F("wanted_on").asc(nulls_last=True)
    return [wanted, then]


class CleaningTable(ListTable):
    mark = tables.Column(empty_values=(), orderable=False, verbose_name="Clean", exclude_from_export=True)
    label = tables.Column(linkify=("piece", {"pk": tables.A("pk")}), verbose_name="Tag")
    type = tables.Column(accessor="type__name", verbose_name="Type")
    where = tables.Column(empty_values=(), orderable=False)
    wanted_on = DayColumn(verbose_name="Wanted by")
    wanted_for = tables.Column(verbose_name="For job")
    dirty_since = DayColumn(verbose_name="Dirty since")
    uses_since_clean = tables.Column(verbose_name="Casts since clean", attrs=NUMBER)

    class Meta(ListTable.Meta):
        model = Piece
        fields = ("mark", "label", "type", "where", "wanted_on", "wanted_for", "dirty_since", "uses_since_clean")

    def render_mark(self, record: Piece) -> str:
        name = f"{tag_code.format(record.label)} is clean"
        return format_html(
            '<input type="checkbox" name="pieces" value="{}" form="clean" aria-label="{}">', record.pk, name
        )

    def render_label(self, value: str) -> str:
        return tag_code.format(value)

    def render_where(self, record: Piece) -> str:
        return str(record.place or (f"docket {record.docket}" if record.docket else ""))

    def order_wanted_on(self, rows: QuerySet, is_descending: bool) -> tuple[QuerySet, bool]:
        return rows.order_by(*_soonest(is_descending, "dirty_since")), True


@allow(*CREW)
class CleaningQueue(ListPage):
    title = "Cleaning"
    template_name = "upkeep/cleaning.html"
    table_class = CleaningTable
    filter_class = GearFilter
    export_name = "cleaning"
    order = ("wanted_on",)
    empty_heading = "Nothing is dirty"
    empty_sentence = "What comes back dirty, or is cast in a pour, stands here until it is cleaned."

    def rows(self) -> QuerySet:
        return select.dirty_queue()

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        summed = as_of()
        queues = select.queues(timezone.localdate())
        more = {"queues": queues, "uncleaned": select.cast_uncleaned(), "total": sum(q.wait.waiting for q in queues)}
        more |= {"wanted": sum(q.wanted for q in queues)}
        return super().get_context_data(**({"clean_form": CleanForm()} | summed | more | kwargs))

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        form = CleanForm(request.POST)
        if not form.is_valid():
            return self.render_to_response(self.get_context_data(clean_form=form, **kwargs))
        said = form.cleaned_data
        ids = [piece.pk for piece in said["pieces"]]
        now, by = timezone.now(), person_of(request)
        done, doubts = clean_all(pieces=ids, codes=said["codes"], place=said["place"], by=by, now=now)
        messages.success(request, f"{done:,} marked clean.")
        for sentence in sorted({doubt.answer.sentence for doubt in doubts}):
            messages.warning(request, f"{_whose(doubts, sentence)}: {sentence}")
        return redirect(request.get_full_path())


def _whose(doubts: Iterable[Doubt], sentence: str) -> str:
    """Of how many it is said, and the first tags of them."""
    those = [doubt.tag for doubt in doubts if doubt.answer.sentence == sentence]
    tags = ", ".join(tag_code.format(tag) for tag in those[:SHOWN] if tag)
    return f"{len(those):,} ({tags}{', …' if len(those) > SHOWN else ''})" if tags else f"{len(those):,}"


SHOWN = 8


class RepairTable(ListTable):
    order = tables.Column(accessor="pk", linkify=("repair", {"pk": tables.A("pk")}), verbose_name="Order")
    piece = tables.Column(linkify=("piece", {"pk": tables.A("piece_id")}), verbose_name="Tag")
    type = tables.Column(accessor="piece__type__name", verbose_name="Type")
    what = tables.Column(verbose_name="What")
    stage = tables.Column(empty_values=(), orderable=False, verbose_name="Stage")
    wanted_on = DayColumn(verbose_name="Wanted by")
    ready_on = DayColumn(verbose_name="Ready by")
    opened_at = DayColumn(verbose_name="Opened")
    done_at = DayColumn(verbose_name="Done")
    cost = tables.Column(empty_values=(), orderable=False, verbose_name="Cost so far", attrs=NUMBER)

    class Meta(ListTable.Meta):
        model = RepairOrder
        fields = (
            "order",
            "piece",
            "type",
            "what",
            "stage",
            "wanted_on",
            "ready_on",
            "opened_at",
            "done_at",
            "cost",
        )

    def render_order(self, record: RepairOrder) -> str:
        return str(record)

    def render_piece(self, record: RepairOrder) -> str:
        return tag_code.format(record.piece.label)

    def render_stage(self, record: RepairOrder) -> str:
        return status(record.stage, "look" if record.stage in ("open", "done, to inspect") else "")

    def value_stage(self, record: RepairOrder) -> str:
        return record.stage

    def render_cost(self, record: RepairOrder) -> str:
        return f"{cost_of(record):,.2f}"

    def order_wanted_on(self, rows: QuerySet, is_descending: bool) -> tuple[QuerySet, bool]:
        return rows.order_by(*_soonest(is_descending, "opened_at")), True


STAGES: dict[str, dict[str, Any]] = {
    "open": {"done_at": None, "given_up_at": None},
    "to inspect": {"done_at__isnull": False, "inspected_at": None, "given_up_at": None},
    "inspected": {"inspected_at__isnull": False},
    "given up": {"given_up_at__isnull": False},
}


class RepairFilter(ListFilter):
    search_fields = ("piece__label__startswith", "piece__type__code__istartswith", "what__icontains")
    search_label = "Tag, type code or words"
    stage = django_filters.ChoiceFilter(
        choices=[(word, word) for word in STAGES], method="in_stage", empty_label="any", label="Stage"
    )
    place = django_filters.ModelChoiceFilter(
        queryset=Place.objects.select_related("parent"), label="Where", empty_label="anywhere"
    )

    class Meta:
        model = RepairOrder
        fields = ["stage", "place"]

    def in_stage(self, rows: QuerySet, _name: str, value: str) -> QuerySet:
        return rows.filter(**STAGES[value])


@allow(Role.HAND, Role.MANAGER, Role.PLANNER)
class RepairQueue(ListPage):
    title = "Repair"
    template_name = "upkeep/repairs.html"
    table_class = RepairTable
    filter_class = RepairFilter
    export_name = "repairs"
    order = ("wanted_on",)
    empty_heading = "No repair orders yet"
    empty_sentence = "A repair is opened from the page of the piece: what, where, by when, at what cost."

    def rows(self) -> QuerySet:
        return select.repair_queue().prefetch_related("parts")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        unfit = select.unfit_without_order()
        orders = RepairOrder.objects.all()
        more = {
            "unfit": unfit.order_by(F("wanted_on").asc(nulls_last=True), "since", "pk")[:30],
            "unfit_count": unfit.order_by().count(),
            "open_count": orders.open().count(),
            "inspect_count": orders.to_inspect().count(),
            "turn_round": select.turn_round(timezone.now()),
        }
        return super().get_context_data(**more, **kwargs)
