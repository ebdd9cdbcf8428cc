"""The scanning surface: batches of scans, their photos, what a phone should know. Described in docs/scanning.md."""

from __future__ import annotations

import json
import re
from datetime import datetime
from io import BytesIO
from typing import Any
from uuid import UUID

from django.core.exceptions import RequestDataTooBig
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone

from inventory.errors import Refused
from inventory.lifecycle.kinds import PlaceKind
from inventory.lifecycle.sentences import sentence
from inventory.models import Device, Place
from inventory.models.roles import Role, roles_of
from inventory.selectors.known import known_at
from inventory.selectors.reviews import verdicts
from inventory.services.photos import keep_photo
from inventory.services.pour_presses import last_press
from inventory.services.recording import Answer
from inventory.services.scanned.reading import ID, MOST_SCANS, VERSION, moment_of
from inventory.services.scanned.taking import Arrival, Recorded, take
from inventory.views.api_access import device_by_key, scanners_only, turned_away
from inventory.views.who import person_id, person_of

DEVICE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{7,39}")
MOST_ASKED = 100


@scanners_only("POST")
def scans(request: HttpRequest) -> HttpResponse:
    """A batch of scans. Either all of it is stored and each scan answered, or none of it is and the queue stays."""
    now = timezone.now()
    try:
        batch = _batch(request)
        person, device, phone = _sender(request, batch.get("device"))
        arrival = Arrival(person, device, batch["now"], now, batch["version"], phone, batch["server_now"])
        taken = take(batch["scans"], arrival, may_override=Role.MANAGER in roles_of(request.user))
    except Refused as refused:
        return turned_away(413 if refused.code == "too-many" else 400, refused.code, refused.sentence)
    except OperationalError:
        return turned_away(503, "busy", "The record is busy. Nothing of this batch was stored: send it again.")
    return JsonResponse(_said(taken, now))


def _batch(request: HttpRequest) -> dict[str, Any]:
    """The envelope, checked; what is inside each scan is looked at later, one by one."""
    try:
        batch = json.loads(request.body)
    except RequestDataTooBig:
        raise Refused("too-many", f"The batch is too large. Send at most {MOST_SCANS} scans at a time.") from None
    except (ValueError, RecursionError):
        raise Refused("no-json", "The batch is no JSON. Keep the scans and send them as described.") from None
    if not isinstance(batch, dict) or not isinstance(batch.get("scans"), list):
        raise Refused("no-scans", "The batch has no list “scans”. Keep the scans and send them as described.")
    if batch.get("version") not in range(1, VERSION + 1) or isinstance(batch["version"], bool):
        raise Refused("version", f"This server reads versions 1 to {VERSION}. Keep the scans until it is updated.")
    batch["version"] = int(batch["version"])
    if len(batch["scans"]) > MOST_SCANS:
        raise Refused("too-many", f"Send at most {MOST_SCANS} scans at a time.")
    batch["now"] = moment_of(batch.get("now"))
    batch["server_now"] = moment_of(batch["server_now"], "server_now") if batch.get("server_now") is not None else None
    return batch


def _sender(request: HttpRequest, code: Any) -> tuple[int | None, Device | None, str]:
    """Who delivers, and with what: a person with the phone they name, or a device with its key."""
    if (device := device_by_key(request)) is not None:
        return None, device, ""
    if not isinstance(code, str) or not DEVICE.fullmatch(code):
        raise Refused("device", "Say in “device” which phone this is: 8 to 40 letters, digits, dots and dashes.")
    return person_id(request), None, code


def _said(taken: Recorded, now: datetime) -> dict[str, Any]:
    clock = taken.clock
    return {
        "version": VERSION,
        "received": now.isoformat(),
        "clock": {
            "off_seconds": round(clock.off.total_seconds(), 3),
            "is_off": clock.is_off,
            "sentence": sentence("clock-off") if clock.is_off else "",
        },
        "answers": [_answer(answer) for answer in taken.answers],
    }


def _answer(answer: Answer) -> dict[str, Any]:
    return {
        "id": str(answer.id),
        "answer": str(answer.answer),
        "first": str(answer.first),
        "code": answer.code,
        "sentence": answer.sentence,
        "loud": answer.loud,
        "piece": answer.piece,
    }


@scanners_only("POST")
def photo(request: HttpRequest, scan: UUID, pk: UUID) -> HttpResponse:
    """One photo for one scan, the picture itself as the body. Sent again, it is had already."""
    by_key = device_by_key(request)
    try:
        kept = keep_photo(
            scan,
            BytesIO(request.body),
            by=None if by_key else person_of(request),
            now=timezone.now(),
            pk=pk,
        )
    except RequestDataTooBig:
        return turned_away(413, "photo-large", "The photo is too large. Make it smaller than 8 MB and send it again.")
    except Refused as refused:
        return turned_away(400, refused.code, refused.sentence)
    return JsonResponse({"id": str(pk), "scan": str(scan), "answer": "recorded" if kept else "already had"})


@scanners_only("GET", "HEAD")
def reviews(request: HttpRequest) -> HttpResponse:
    """What has become of scans that were kept for review: a phone shows each until somebody has settled it."""
    asked = request.GET.getlist("scan")
    if len(asked) > MOST_ASKED or not all(ID.fullmatch(pk) for pk in asked):
        return turned_away(400, "scans", f"Ask about at most {MOST_ASKED} scans at a time, each by its id.")
    said = verdicts({UUID(pk) for pk in asked})
    rows = [{"id": str(pk), "open": one.open, "by": one.by, "how": one.how} for pk, one in said.items()]
    return JsonResponse({"version": VERSION, "reviews": rows})


@scanners_only("GET", "HEAD")
def me(request: HttpRequest) -> HttpResponse:
    """Who this is by the server, with a fresh form token: ask before draining a queue that has waited."""
    if (device := device_by_key(request)) is not None:
        return JsonResponse({"version": VERSION, "now": timezone.now().isoformat(), "device": _device(device)})
    person = person_of(request)
    return JsonResponse(
        {
            "version": VERSION,
            "now": timezone.now().isoformat(),
            "person": {"id": person.pk, "name": person.name},
            "roles": sorted(role.value for role in roles_of(request.user)),
            "form_token": get_token(request),
        }
    )


def _device(device: Device) -> dict[str, Any]:
    return {"code": device.code, "name": device.name}


@scanners_only("GET", "HEAD")
def known(request: HttpRequest) -> HttpResponse:
    """What a phone should know before it goes out of signal: for one docket, or one place, or neither."""
    try:
        docket, place = _number(request, "docket"), _number(request, "place")
        said = known_at(docket, place) | {"last_press": _last_press(place)}
        return JsonResponse({"version": VERSION, "now": timezone.now().isoformat()} | said)
    except Refused as refused:
        return turned_away(404, refused.code, refused.sentence)


def _last_press(place: int | None) -> str | None:
    """The press on the pour that an exception, scanned later, takes back for one piece."""
    pour = Place.objects.filter(pk=place or 0, kind=PlaceKind.POUR).first()
    last = last_press(pour) if pour is not None else None
    return str(last.pk) if last is not None else None


def _number(request: HttpRequest, name: str) -> int | None:
    text = request.GET.get(name, "")
    if not text:
        return None
    if not text.isascii() or not text.isdigit() or len(text) > 15:
        raise Refused(f"{name}-unknown", f"There is no such {name}.")
    return int(text)
