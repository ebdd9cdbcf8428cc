"""Run by test_crashes.py in a process of its own: batches, killed at named points, and two processes at once.

    python -m tests.inventory.crash_process KEY BATCHES     BATCHES is a file: {"points": {...}, "both": [[...], [...]]}

Prints one line of JSON: what was stored right after each kill, what the same batch was answered then, and what the
replay says in the end. Each request runs in a process forked for it, so that a kill takes it as it would a worker.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from pathlib import Path


def main(key: str, batches: dict) -> dict:
    import django

    django.setup()
    said: dict = {"points": {}}
    for point, scans in batches["points"].items():
        killed = _wait(_forked(lambda point=point, scans=scans: (_arm(point), _post(key, scans))))
        stored = _stored(scans)
        said["points"][point] = {
            "killed": killed,
            "stored": stored,
            "again": _post(key, scans),
            "then": _stored(scans),
            "third": _post(key, scans),
        }
    _close()
    racers = [_forked(lambda scans=scans: _in_small_batches(key, scans)) for scans in batches["both"]]
    said["both"] = {
        "ended": [_wait(pid) for pid in racers],
        "stored": [_stored(scans) for scans in batches["both"]],
    }
    said["differences"] = _differences()
    return said


def _arm(point: str) -> None:
    """From now on this process dies at the named point of a batch."""
    from inventory.services import recording
    from inventory.views import api

    where, name = {
        "after insert": (recording, "keep_events"),
        "before commit": (recording, "keep_submissions"),
        "after commit": (api, "take"),
    }[point]
    work = getattr(where, name)

    def dies(*args, **kwargs):
        work(*args, **kwargs)
        os.kill(os.getpid(), signal.SIGKILL)

    setattr(where, name, dies)


def _forked(work) -> int:
    _close()
    pid = os.fork()
    if pid == 0:
        try:
            work()
            os._exit(0)
        finally:
            os._exit(1)
    return pid


def _wait(pid: int) -> int:
    """The signal that ended it; 0 when it ended by itself and well."""
    _, status = os.waitpid(pid, 0)
    return os.WTERMSIG(status) if os.WIFSIGNALED(status) else os.WEXITSTATUS(status)


def _close() -> None:
    from django.db import connections

    connections.close_all()


def _post(key: str, scans: list) -> list[str]:
    from django.test import Client
    from django.utils import timezone

    body = json.dumps({"version": 1, "now": timezone.now().isoformat(), "scans": scans})
    answer = Client().post(
        "/api/scans", body, content_type="application/json", headers={"Authorization": f"Bearer {key}"}
    )
    assert answer.status_code == 200, answer.content
    return [each["answer"] for each in answer.json()["answers"]]


def _in_small_batches(key: str, scans: list) -> None:
    """Five at a time, each batch sent twice."""
    for first in range(0, len(scans), 5):
        for _ in range(2):
            _post(key, scans[first : first + 5])


def _stored(scans: list) -> list[int]:
    """How many of these scans are stored as events, and how many as submissions."""
    from inventory.models import Event, Submission

    ids = [scan["id"] for scan in scans]
    return [Event.objects.filter(pk__in=ids).count(), Submission.objects.filter(event_id__in=ids).count()]


def _differences() -> list[str]:
    from inventory.services.replaying import replay

    return [str(each) for each in replay().found]


if __name__ == "__main__":
    print(json.dumps(main(sys.argv[1], json.loads(Path(sys.argv[2]).read_text()))))
