"""The words along the top of every page: one list, shown only as far as the signed-in roles reach."""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

from django.conf import settings
from django.http import HttpRequest
from django.urls import get_urlconf, resolve

from inventory.views.access import admits, reverse_or_none

# (label, url name). A name that no URL configuration has yet is left out.
NAVIGATION = (
    ("Board", "board"),
    ("Scan", "scan"),
    ("At the pour", "slab"),
    ("Pieces", "pieces"),
    ("Dockets", "dockets"),
    ("Places", "places"),
    ("Pours", "pours"),
    ("Jobs", "jobs"),
    ("Programme", "programme"),
    ("Review", "review"),
    ("Cleaning", "cleaning"),
    ("Repair", "repairs"),
    ("Stocktakes", "stocktakes"),
    ("Counted goods", "counted-goods"),
    ("Crates", "crates"),
    ("Catalogue", "types"),
    ("Take-off rules", "take-off-rules"),
    ("Labels", "labels"),
    ("Bring in", "imports"),
    ("Customers", "customers"),
    ("Bills", "bills"),
    ("Stays", "stays"),
    ("Figures", "figures"),
    ("People", "people"),
    ("Yard settings", "yard-settings"),
)


class Entry(NamedTuple):
    label: str
    url: str
    here: bool


def entries(request: HttpRequest) -> list[Entry]:
    user: Any = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return []
    shown = [(label, url) for label, url, view in _pages(get_urlconf() or settings.ROOT_URLCONF) if admits(user, view)]
    here = _nearest(request.path, [url for _, url in shown])
    return [Entry(label, url, url == here) for label, url in shown]


@cache
def _pages(_urlconf: Any) -> list[tuple[str, str, Any]]:
    """Looked up once: every page shows them."""
    urls = ((label, reverse_or_none(name)) for label, name in NAVIGATION)
    return [(label, url, resolve(url).func) for label, url in urls if url is not None]


def _nearest(path: str, urls: list[str]) -> str:
    """The listed page this path is, or lies beneath; the board only when it is the board itself."""
    beneath = [url for url in urls if path == url or (url != "/" and path.startswith(url))]
    return max(beneath, key=len, default="")
