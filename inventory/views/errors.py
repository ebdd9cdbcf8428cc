"""Our own pages for what goes wrong. None of them touches the database, which may be what went wrong."""

from __future__ import annotations

import logging
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

logger = logging.getLogger("pourback.pages")


def _page(request: HttpRequest, title: str, sentence: str, remedy: str, status: int) -> HttpResponse:
    context = {"title": title, "sentence": sentence, "remedy": remedy}
    return render(request, "errors/plain.html", context, status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _page(
        request,
        "That request could not be read",
        "The server could not make sense of what was sent. Nothing was recorded.",
        "Go back, open the page again and try once more.",
        400,
    )


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _page(
        request,
        "Not with this sign-in",
        "This page, or this press, is for somebody else. Nothing was recorded.",
        "Ask the yard manager, who gives out the roles.",
        403,
    )


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _page(
        request,
        "There is no such page",
        "Nothing in the record has this address: it may have been mistyped.",
        "Search for the piece, docket or job by its code instead.",
        404,
    )


BROKE = (
    "Something broke here",
    "The fault is the server's, not yours. It has been written to the log; what you pressed may not be recorded.",
    "Open the page again and look before you press again. If it breaks twice, tell the person who runs the server.",
)


def server_error(request: HttpRequest) -> HttpResponse:
    """Plain words when even our own page cannot be set, as when the static files were never collected."""
    try:
        return _page(request, *BROKE, status=500)
    except Exception:
        logger.exception("The page for errors broke too.")
        return HttpResponse("\n\n".join(BROKE), status=500, content_type="text/plain; charset=utf-8")


def form_expired(request: HttpRequest, reason: str = "", **_: Any) -> HttpResponse:
    logger.warning("A form from %s was refused: %s", request.path, reason)
    return _page(
        request,
        "That form is out of date",
        "You signed in or out since the page was opened, so the form was not accepted. Nothing was recorded.",
        "Go back, open the page again, and send the form once more.",
        403,
    )
