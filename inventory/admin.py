"""The ledger and its cached state, for whoever runs the server to look at. Nothing is written here."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from inventory.models import Batch, CountedStock, Device, Docket, Event, Person, Piece, Submission, Tag


class LookOnly(admin.ModelAdmin):
    show_full_result_count = False  # counting a million events twice helps nobody
    list_per_page = 50

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(Event)
class EventAdmin(LookOnly):
    list_display = ("id", "kind", "happened_at", "recorded_at", "piece", "place", "docket", "seen", "person")
    list_filter = ("kind", "seen")
    list_select_related = ("piece", "place", "docket", "person")
    search_fields = ("=id", "=piece__label")


@admin.register(Submission)
class SubmissionAdmin(LookOnly):
    list_display = ("id", "answer", "code")
    list_filter = ("answer",)


@admin.register(Piece)
class PieceAdmin(LookOnly):
    list_display = ("label", "type", "place", "docket", "dirty", "fitness", "uses", "standing")
    list_filter = ("standing", "fitness", "dirty")
    list_select_related = ("type", "place", "docket")
    search_fields = ("=label", "=own_number")


admin.site.register([Batch, CountedStock, Device, Docket, Person, Tag], LookOnly)
