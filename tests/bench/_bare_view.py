"""URLs of the whole application, and beside them a view that inserts one row of an event and does nothing else."""

from __future__ import annotations

from datetime import UTC, datetime

from django.http import HttpRequest, JsonResponse
from django.urls import include, path
from django.views.decorators.csrf import csrf_exempt

from inventory.models import Event

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


@csrf_exempt
def insert(request: HttpRequest) -> JsonResponse:
    event = Event.objects.create(kind="cleaned", happened_at=NOON, said_at=NOON, recorded_at=NOON, seen="scanned")
    return JsonResponse({"id": str(event.pk)})


urlpatterns = [path("bare", insert), path("", include("config.urls"))]
