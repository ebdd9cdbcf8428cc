"""The page each role lands on when it signs in."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from inventory.views.access import signed_in
from inventory.views.navigation import entries


@signed_in
def board(request: HttpRequest) -> HttpResponse:
    pages = [entry for entry in entries(request) if not entry.here]
    return render(request, "boards/board.html", {"title": "Board", "pages": pages})
