"""What lets the scan page open without signal: its list of files, the worker that keeps them, and the manifest."""

from __future__ import annotations

import hashlib
import json
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from django.conf import settings
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.cache import never_cache

from inventory.views.access import public

STYLES = ("ground", "parts", "forms", "tables", "print", "scan")
SCRIPTS = (
    "elements",
    "page",
    "scan",
    "scan-awake",
    "scan-camera",
    "scan-choose",
    "scan-code",
    "scan-context",
    "scan-damage",
    "scan-doings",
    "scan-drain",
    "scan-feel",
    "scan-known",
    "scan-photo",
    "scan-queue",
    "scan-show",
    "scan-store",
    "scan-take",
    "scan-tally",
    "scan-typed",
    "scan-wire",
    "tagcode",
)
ICONS = ("icon.svg", "icon-180.png", "icon-192.png", "icon-512.png")
READER = ("zxing/index.js", "zxing/zxing_reader.wasm")
HTMX = "django_htmx/htmx-2.min.js"


class Reader(NamedTuple):
    """The QR reader's script and its other half. Both come from one package, so they are of one version."""

    script: str
    wasm: str


def reader() -> Reader | None:
    """None where the browser assets were never fetched: then tags are typed."""
    return Reader(*map(static, READER)) if all(finders.find(name) for name in READER) else None


def files() -> list[str]:
    """Names of every static file that the scan page asks for."""
    own = [f"pourback/{name}.css" for name in STYLES] + [f"pourback/{name}.js" for name in SCRIPTS]
    own += [f"pourback/{name}" for name in ICONS]
    return [*own, HTMX, *(READER if reader() else ())]


def release() -> str:
    """Changes whenever any file of the page does: the name of the phone's cache."""
    return _read_release() if settings.DEBUG else _release()


@cache
def _release() -> str:
    return _read_release()


def _read_release() -> str:
    digest = hashlib.sha256()
    templates = Path(settings.BASE_DIR) / "templates"
    pages = [templates / "base.html", templates / "parts" / "stub.html", *sorted((templates / "scan").iterdir())]
    for path in [*(Path(found) for name in files() if (found := finders.find(name))), *pages]:
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


@public
@never_cache
def worker(request: HttpRequest) -> HttpResponse:
    """Served from the root, since a worker looks after its own folder and what lies beneath it."""
    context: dict[str, Any] = {
        "release": release(),
        "page": reverse("scan"),
        "files": json.dumps([static(name) for name in files()] + [reverse("manifest")]),
    }
    return render(request, "scan/worker.js", context, content_type="text/javascript")


@public
def manifest(_request: HttpRequest) -> JsonResponse:
    """For putting the scan page on a phone's home screen."""
    sizes = {"icon-192.png": "192x192", "icon-512.png": "512x512"}
    said = {
        "name": "Pourback scanning",
        "short_name": "Pourback",
        "id": reverse("scan"),
        "start_url": reverse("scan"),
        "scope": "/",
        "display": "standalone",
        "orientation": "portrait",
        "background_color": "#f6f1e5",
        "theme_color": "#f6f1e5",
        "icons": [
            {"src": static(f"pourback/{name}"), "sizes": size, "type": "image/png", "purpose": purpose}
            for name, size in sizes.items()
            for purpose in ("any", "maskable")
        ],
    }
    return JsonResponse(said, content_type="application/manifest+json")
