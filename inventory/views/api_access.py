"""Who may talk to the scanning surface: a signed-in scanner with the form token, or a device with its key.

Every answer is JSON with a sentence, never a redirect: a phone that followed one to the sign-in page would take that
page for an answer and empty its queue.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import CsrfViewMiddleware
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt

from inventory.errors import Refused
from inventory.models import Device
from inventory.models.roles import Role, roles_of
from inventory.services.devices import device_with_key
from inventory.views.access import READING

SCANNERS = frozenset({Role.HAND, Role.SITE_LEAD, Role.MANAGER})


def turned_away(status: int, code: str, sentence: str) -> JsonResponse:
    return JsonResponse({"code": code, "sentence": sentence}, status=status)


def scanners_only(*methods: str) -> Callable[[Callable[..., HttpResponse]], Any]:
    """Let in signed-in scanners, and devices by key (`request.device` is set then), and answer the rest in JSON."""

    def decorate(view: Callable[..., HttpResponse]) -> Any:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if refused := _turned(request):
                return refused
            if request.method not in methods:
                return turned_away(405, "method", f"This address takes {' or '.join(methods)}.")
            return view(request, *args, **kwargs)

        guarded.allowed_roles = guarded.write_roles = SCANNERS  # type: ignore[attr-defined]
        # It looks after both itself, so that it can answer in JSON; a key in a header needs no form token, since no
        # other site can make a browser send it.
        return never_cache(csrf_exempt(login_not_required(guarded)))

    return decorate


def _turned(request: HttpRequest) -> HttpResponse | None:
    """Why this request is turned away; None when it is let in."""
    word, _, key = request.headers.get("Authorization", "").partition(" ")
    if word:
        return _by_key(request, key.strip() if word.lower() == "bearer" else "")
    if not request.user.is_authenticated:
        return turned_away(401, "signed-out", "Sign in again. The scans waiting on this phone are kept.")
    if not roles_of(request.user) & SCANNERS:
        return turned_away(403, "not-with-this-sign-in", "Scanning is for the yard hand, site lead and yard manager.")
    if request.method not in READING and _FORM_TOKEN.process_view(request, _nothing, (), {}):
        return turned_away(403, "form-token", "The form token is out of date. Fetch a new one, then send again.")
    return None


def _by_key(request: HttpRequest, key: str) -> HttpResponse | None:
    try:
        request.device = device_with_key(key)  # type: ignore[attr-defined]
    except Refused as refused:
        return turned_away(401, refused.code, refused.sentence)
    return None


def device_by_key(request: HttpRequest) -> Device | None:
    return getattr(request, "device", None)


class _FormToken(CsrfViewMiddleware):
    """Django's own check, asked for its verdict alone."""

    def _reject(self, request: HttpRequest, reason: str) -> HttpResponse:
        return HttpResponse(reason, status=403)


def _nothing(_request: HttpRequest) -> HttpResponse:
    return HttpResponse()


_FORM_TOKEN = _FormToken(_nothing)
