"""One address for a monitor to watch: is the database there, is it migrated, is the worker alive, is work piling up."""

from __future__ import annotations

from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache

from inventory.selectors.health import health_now
from inventory.views.access import public


@public
@never_cache
def health(request: HttpRequest) -> JsonResponse:
    """200 when all is well, 503 when a person is needed. Says nothing about what is stored."""
    report = health_now()
    return JsonResponse(report, status=200 if report["well"] else 503)
