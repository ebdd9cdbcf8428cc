"""Served by gunicorn for test_crashes.py: the application itself, which dies where it is told to.

The file named in POURBACK_DIE_AT holds the point at which the next batch kills the whole server (its process group:
master and workers at once), as a SIGKILL from outside would; an empty file, nothing. Two addresses beside the
application's own say what is stored and what the replay finds, from inside the server.
"""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from config.wsgi import application as pourback

POINTS = ("after insert", "before commit", "after commit")
FLAG = Path(os.environ["POURBACK_DIE_AT"])


def _may_die() -> None:
    from inventory.services import recording
    from inventory.views import api

    places = ((recording, "keep_events"), (recording, "keep_submissions"), (api, "take"))
    for point, (where, name) in zip(POINTS, places, strict=True):
        setattr(where, name, _dying(point, getattr(where, name)))


def _dying(point: str, work: Callable[..., Any]) -> Callable[..., Any]:
    def does(*args: Any, **kwargs: Any) -> Any:
        done = work(*args, **kwargs)
        if FLAG.read_text() == point:
            os.killpg(os.getpgrp(), signal.SIGKILL)
        return done

    return does


def _stored(ids: list[str]) -> list[int]:
    """How many of these scans are stored as events, and how many as submissions."""
    from inventory.models import Event, Submission

    return [Event.objects.filter(pk__in=ids).count(), Submission.objects.filter(event_id__in=ids).count()]


def _differences(_: object) -> list[str]:
    from inventory.services.replaying import replay

    return [str(each) for each in replay().found]


_may_die()
SAID: dict[str, Callable[[Any], object]] = {"/stored": _stored, "/replay": _differences}


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
    say = SAID.get(environ["PATH_INFO"])
    if say is None:
        return pourback(environ, start_response)
    asked = json.loads(environ["wsgi.input"].read() or b"null")
    start_response("200 OK", [("Content-Type", "application/json")])
    return [json.dumps(say(asked)).encode()]
