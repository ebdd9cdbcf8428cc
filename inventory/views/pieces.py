"""The pieces: their list, the page of each, and where a tag leads."""

from __future__ import annotations

from uuid import UUID

import django_filters
import django_tables2 as tables
from django.db.models import QuerySet
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html_join

from inventory.errors import Refused
from inventory.forms.gear_filter import GearFilter
from inventory.lifecycle.kinds import Standing
from inventory.models import Photo, Piece, YardSettings
from inventory.models.roles import Role, roles_of
from inventory.selectors import pieces as select
from inventory.selectors.history import history
from inventory.selectors.upkeep import inspection_of
from inventory.tags import code as tag_code
from inventory.views.access import allow, public, reverse_or_none
from inventory.views.listing import NUMBER, DayColumn, ListPage, ListTable
from inventory.views.markup import metres, status
from inventory.views.piece_presses import open_presses

EVERYONE = tuple(Role)


class PieceTable(ListTable):
    label = tables.Column(linkify=("piece", {"pk": tables.A("pk")}), verbose_name="Tag")
    own_number = tables.Column(verbose_name="Own number")
    type = tables.Column(accessor="type__name", verbose_name="Type")
    length = tables.Column(accessor="type__length_mm", verbose_name="Length", attrs=NUMBER)
    state = tables.Column(empty_values=(), orderable=False)
    where = tables.Column(empty_values=(), orderable=False)
    since = DayColumn(verbose_name="Since")
    uses = tables.Column(attrs=NUMBER)

    class Meta(ListTable.Meta):
        model = Piece
        fields = ("label", "own_number", "type", "length", "state", "where", "since", "uses")

    def render_label(self, value: str) -> str:
        return tag_code.format(value)

    def render_length(self, value: int) -> str:
        return metres(value)

    def value_length(self, value: int) -> int:
        return value

    def render_state(self, record: Piece) -> str:
        return format_html_join(" ", "{}", ((status(word),) for word in select.state_words(record)))

    def value_state(self, record: Piece) -> str:
        return ", ".join(select.state_words(record))

    def render_where(self, record: Piece) -> str:
        return str(record.place or (f"docket {record.docket}" if record.docket else ""))


class PieceFilter(GearFilter):
    state = django_filters.ChoiceFilter(
        method="in_state", label="State", choices=[(word, word) for word in select.STATES], empty_label="any"
    )

    class Meta(GearFilter.Meta):
        fields = ["state", "place", "type"]

    def in_state(self, rows: QuerySet, _name: str, value: str) -> QuerySet:
        return rows.filter(select.STATES[value])


@allow(*EVERYONE)
class PieceList(ListPage):
    title = "Pieces"
    template_name = "gear/pieces.html"
    table_class = PieceTable
    filter_class = PieceFilter
    export_name = "pieces"
    empty_heading = "No pieces yet"
    empty_sentence = "Every tagged length, bracket and crate will be listed here, once it is registered or brought in."

    def rows(self) -> QuerySet:
        return select.for_lists()


@allow(*EVERYONE)
def piece(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(select.for_its_page(), pk=pk)
    lived = history(found)
    context = {
        "title": found.type.name,
        "piece": found,
        "words": select.state_words(found),
        "tags": found.tags.all(),
        "history": lived,
        "inspection": inspection_of(found.type, lived.life, timezone.localdate()),
        "presses": open_presses(found, roles_of(request.user)),
        "parts": found.parts.order_by("pk") if found.standing == Standing.CUT_DOWN else [],
        "lift": YardSettings.current().two_person_lift_kg,
    }
    return render(request, "gear/piece.html", context)


@public
def tag(request: HttpRequest, code: str) -> HttpResponse:
    """Where the printed QR leads. A stranger learns whom to call, and not even whether there is such a tag."""
    if not request.user.is_authenticated:
        return render(request, "gear/stranger.html", {"yard": YardSettings.current()})
    found = select.tag_of(tag_code.compact(code))
    if found is not None and found.piece is not None:
        return redirect("piece", pk=found.piece.pk)
    if found is not None and found.place_id is not None:
        return redirect(reverse_or_none("pour-at", found.place_id) or reverse("place", args=[found.place_id]))
    context = {"title": "No piece carries this tag", "code": code, "blank": found, "sentence": _why(code)}
    return render(request, "gear/no_piece.html", context, status=404)


def _why(code: str) -> str:
    try:
        tag_code.validate(code)
    except Refused as refused:
        return refused.sentence
    return ""


@allow(*EVERYONE)
def photo(_request: HttpRequest, pk: UUID) -> FileResponse:
    found = get_object_or_404(Photo, pk=pk)
    try:
        return FileResponse(found.image.open("rb"), content_type="image/jpeg")
    except FileNotFoundError:
        raise Http404("The photo's file is gone from the disk.") from None
