"""The words along the top of every page: one list, in groups, shown only as far as the signed-in roles reach."""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

from django.conf import settings
from django.http import HttpRequest
from django.urls import get_urlconf, resolve

from inventory.views.access import admits, reverse_or_none

# Group, then (label, url name) of each page in it. A URL configuration of a test may lack some: they are left out.
NAVIGATION: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    (
        "Today",
        (
            ("Board", "board"),
            ("Scan", "scan"),
            ("At the pour", "slab"),
            ("Dockets", "dockets"),
            ("Review", "review"),
            ("The week", "week"),
        ),
    ),
    (
        "Gear",
        (
            ("Pieces", "pieces"),
            ("Crates", "crates"),
            ("Counted goods", "counted-goods"),
            ("On order", "awaited"),
            ("Places", "places"),
            ("Stocktakes", "stocktakes"),
            ("Labels", "labels"),
        ),
    ),
    (
        "Upkeep",
        (
            ("Cleaning", "cleaning"),
            ("Inspections", "inspections"),
            ("Repair", "repairs"),
            ("Missing", "missing"),
            ("Figures", "figures"),
            ("Forecast", "forecast"),
            ("Cut down", "recut"),
        ),
    ),
    (
        "Jobs",
        (
            ("Jobs", "jobs"),
            ("Programme", "programme"),
            ("Asked back", "chases"),
            ("To buy or hire in", "supplies"),
            ("Customers", "customers"),
        ),
    ),
    (
        "Hire",
        (
            ("Bills", "bills"),
            ("Gear against bills", "stays"),
            ("Terms", "terms"),
            ("Our details", "seller"),
        ),
    ),
    (
        "Set up",
        (
            ("Catalogue", "types"),
            ("Take-off rules", "take-off-rules"),
            ("Mill bars", "mill-bars"),
            ("Yards apart", "yard-roads"),
            ("Bring in", "imports"),
            ("People", "people"),
            ("Devices", "devices"),
            ("Yard settings", "yard-settings"),
        ),
    ),
)
# Up to so many pages stand in one row, without their groups.
FEW = 8


class Entry(NamedTuple):
    label: str
    url: str
    here: bool


class Group(NamedTuple):
    """Its own link leads to the first of its pages."""

    label: str
    pages: list[Entry]

    @property
    def url(self) -> str:
        return self.pages[0].url

    @property
    def here(self) -> bool:
        return any(page.here for page in self.pages)


def groups(request: HttpRequest) -> list[Group]:
    """Groups with the pages this person may open; one group without a label when they are few."""
    user: Any = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return []
    shown = [
        (group, [(label, url) for label, url, view in pages if admits(user, view)])
        for group, pages in _pages(get_urlconf() or settings.ROOT_URLCONF)
    ]
    here = _nearest(request.path, [url for _, pages in shown for _, url in pages])
    found = [Group(group, [Entry(*page, page[1] == here) for page in pages]) for group, pages in shown if pages]
    pages = [page for group in found for page in group.pages]
    return [Group("", pages)] if 0 < len(pages) <= FEW else found


def entries(request: HttpRequest) -> list[Entry]:
    return [page for group in groups(request) for page in group.pages]


@cache
def _pages(_urlconf: Any) -> list[tuple[str, list[tuple[str, str, Any]]]]:
    """Looked up once: every page shows them."""
    found = []
    for group, pages in NAVIGATION:
        urls = [(label, reverse_or_none(name)) for label, name in pages]
        found.append((group, [(label, url, resolve(url).func) for label, url in urls if url is not None]))
    return found


def _nearest(path: str, urls: list[str]) -> str:
    """The listed page this path is, or lies beneath; the board only when it is the board itself."""
    beneath = [url for url in urls if path == url or (url != "/" and path.startswith(url))]
    return max(beneath, key=len, default="")
