"""What waits for the manager to settle: the list, and one card with what the record said and what was reported."""

from __future__ import annotations

from typing import Any

import django_filters
import django_tables2 as tables
from django.contrib import messages
from django.db.models import Count, F, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from inventory.errors import Refused
from inventory.forms.filters import ListFilter, YesNo
from inventory.forms.reviews import SettleForm
from inventory.lifecycle.kinds import GroupKind
from inventory.lifecycle.sentences import SENTENCES, sentence
from inventory.models import Docket, Piece, Place, ReviewItem
from inventory.models.roles import Role
from inventory.selectors.reviews import Card, card_of, may_have_been, open_items, record_before
from inventory.services.reviewing import Settlement, settle, ways
from inventory.views.access import allow
from inventory.views.listing import NUMBER, DayColumn, ListPage, ListTable
from inventory.views.markup import status
from inventory.views.who import person_of

SHOWN = 200


class ReviewTable(ListTable):
    loud = tables.Column(verbose_name="Alarm")
    code = tables.Column(linkify=("review-card", {"pk": tables.A("pk")}), verbose_name="What is wrong")
    piece = tables.Column(accessor="piece__label", verbose_name="Piece")
    pieces = tables.Column(attrs=NUMBER, verbose_name="Pieces")
    happened = DayColumn(accessor="event__happened_at", verbose_name="Happened")
    person = tables.Column(accessor="event__person__name", verbose_name="Reported by")
    opened_at = DayColumn(verbose_name="Waiting since")

    def render_loud(self, value: bool) -> str:
        return status("alarm", "stop") if value else ""

    def value_loud(self, value: bool) -> str:
        return "alarm" if value else ""

    def render_code(self, value: str) -> str:
        return sentence(value)

    def value_code(self, value: str) -> str:
        return sentence(value)

    class Meta(ListTable.Meta):
        model = ReviewItem
        fields = ("loud", "code", "piece", "pieces", "happened", "person", "opened_at")


class ReviewFilter(ListFilter):
    search_fields = ("piece__label__istartswith", "event__person__name__icontains")
    search_label = "Tag or person"
    code = django_filters.ChoiceFilter(choices=list(SENTENCES.items()), label="What is wrong")
    loud = django_filters.BooleanFilter(label="Alarms", widget=YesNo)

    class Meta:
        model = ReviewItem
        fields = ["code", "loud"]


@allow(Role.MANAGER)
class ReviewList(ListPage):
    title = "Review"
    template_name = "inventory/review.html"
    table_class = ReviewTable
    filter_class = ReviewFilter
    export_name = "review"
    order = ("-loud", "opened_at")
    empty_heading = "Nothing to settle"
    empty_sentence = "Where a scan and the record contradict each other, it waits here for you."

    def rows(self) -> QuerySet:
        """One row for each card: the first of the items that share an event and a code."""
        alike = Q(event__reviews__code=F("code"), event__reviews__settled_at=None)
        return open_items().one_a_card().annotate(pieces=Count("event__reviews__piece", filter=alike, distinct=True))

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        loud = ReviewItem.objects.open().one_a_card().filter(loud=True).count()
        return super().get_context_data(loud=loud, **kwargs)


@allow(Role.MANAGER)
def card(request: HttpRequest, pk: int) -> HttpResponse:
    """One card, and the ways to settle it."""
    item = get_object_or_404(ReviewItem, pk=pk)
    if item.settled_at is not None:
        messages.info(request, "That has been settled already.")
        return redirect("review")
    found = card_of(item)
    candidates = may_have_been(found)
    chosen = request.POST.get("way", "")
    forms = [SettleForm(way, candidates, request.POST if way.code == chosen else None) for way in ways(found)]
    for form in forms:
        if form.is_bound and form.is_valid() and _settled(request, item, form):
            return redirect("review")
    return render(request, "inventory/review_card.html", _shown(found) | {"forms": forms})


def _settled(request: HttpRequest, item: ReviewItem, form: SettleForm) -> bool:
    said = {name: form.cleaned_data[name] for name in ("reason", "piece", "when", "grade") if name in form.cleaned_data}
    try:
        settle(item, form.way.code, Settlement(by=person_of(request), **said))
    except Refused as refused:
        form.add_error(None, refused.sentence)
        return False
    messages.success(request, f"Settled: {form.way.label.lower()}.")
    return True


def _whole(found: Card) -> str:
    """The pour, crate or docket that the report spoke for as a whole."""
    event = found.event
    if event is None or event.group_id is None:
        return ""
    rows: dict[GroupKind, QuerySet[Any]] = {
        GroupKind.POUR: Place.objects.all(),
        GroupKind.CRATE: Piece.objects.all(),
        GroupKind.DOCKET: Docket.objects.all(),
    }
    group = rows[GroupKind(event.group_kind)].filter(pk=event.group_id).first()
    return f"{event.group_kind} {group}" if group is not None else ""


def _shown(found: Card) -> dict[str, Any]:
    """What was reported and, for one piece, what the record had just before."""
    before = record_before(found.pieces[0].pk, found.event.pk) if found.event and len(found.pieces) == 1 else None
    place = Place.objects.filter(pk=before.place).first() if before and before.place else None
    return {
        "title": "Review",
        "up": reverse("review"),
        "card": found,
        "before": before,
        "before_place": place,
        "whole": _whole(found),
        "pieces": found.pieces[:SHOWN],
        "more": max(0, len(found.pieces) - SHOWN),
    }
