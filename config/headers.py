"""Headers that neither Django nor django-csp sets."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

# The scan page uses the camera and keeps the screen awake; nothing here needs the rest.
PERMISSIONS = ", ".join(
    (
        "camera=(self)",
        "screen-wake-lock=(self)",
        "geolocation=()",
        "microphone=()",
        "payment=()",
        "usb=()",
        "browsing-topics=()",
    )
)


def permissions_policy(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    def middleware(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        return response

    return middleware
