"""A real server killed in the middle of a real batch, started again, and the batch sent again: nothing is lost and
nothing doubled. Two phones at two workers at once: the same.

A SIGKILL leaves what the operating system has taken over; a power cut is not shown here (synchronous=FULL on SQLite
and fsync on PostgreSQL are what those databases promise for it).
"""

from __future__ import annotations

import json
import os
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit
from uuid import uuid4

import pytest
from django.conf import settings
from django.db import connection
from django.utils import timezone

from inventory.services.devices import make_device
from tests.inventory.yard import make_yard

POINTS = ("after insert", "before commit", "after commit")
SIGKILL = 9


def _database(folder: Path) -> str:
    """An address at which another process finds what this test has committed."""
    if connection.vendor == "postgresql":
        served = urlsplit(os.environ["POURBACK_DATABASE_URL"])
        return served._replace(path=f"/{connection.settings_dict['NAME']}").geturl()
    copy = folder / "copy.sqlite3"
    with sqlite3.connect(copy) as file:
        connection.connection.backup(file)
    return f"sqlite:///{copy}"


class Server:
    """gunicorn with two workers, which kills itself at the point of a batch that it is told."""

    def __init__(self, folder: Path, key: str, docket: int) -> None:
        self.flag, self.key, self.docket = folder / "die at", key, docket
        self.flag.write_text("")
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        told = {"POURBACK_DATABASE_URL": _database(folder), "POURBACK_DIE_AT": str(self.flag)}
        self.environment = os.environ | told | {"POURBACK_LOG_LEVEL": "ERROR"}
        self.process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        command = [sys.executable, "-m", "gunicorn", "tests.inventory.crash_server", "--workers", "2", "--preload"]
        self.process = subprocess.Popen(
            [*command, "--bind", f"127.0.0.1:{self.port}", "--log-level", "error"],
            cwd=settings.BASE_DIR,
            env=self.environment,
            stderr=subprocess.DEVNULL,
            start_new_session=True,  # a process group of its own, to be killed as one
        )
        end = time.monotonic() + 120
        while time.monotonic() < end and self.process.poll() is None:
            if self.answers():
                return
            time.sleep(0.05)
        raise AssertionError("the server did not start")

    def answers(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def stop(self) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.terminate()
            self.process.wait(30)

    def post(self, scans: list[dict[str, object]]) -> list[str]:
        batch = {"version": 1, "now": timezone.now().isoformat(), "scans": scans}
        return [each["answer"] for each in self.ask("/api/scans", batch)["answers"]]

    def ask(self, path: str, said: object):
        head = {"Authorization": f"Bearer {self.key}", "Content-Type": "application/json"}
        asked = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", json.dumps(said).encode(), head)
        with urllib.request.urlopen(asked, timeout=60) as answer:
            return json.loads(answer.read())

    def stored(self, scans: list[dict[str, object]]) -> list[int]:
        return self.ask("/stored", [scan["id"] for scan in scans])

    def dies_of(self, point: str, scans: list[dict[str, object]]) -> None:
        self.flag.write_text(point)
        with pytest.raises(OSError):
            self.post(scans)
        assert self.process is not None and self.process.wait(30) == -SIGKILL
        end = time.monotonic() + 30
        while self.answers():  # workers may hold the port for a moment longer than their master
            assert time.monotonic() < end, "the workers did not die with their master"
            time.sleep(0.02)
        self.flag.write_text("")


@pytest.fixture
def server(transactional_db, tmp_path):
    yard = make_yard()
    yard.pieces(*CODES)
    docket, (_, key) = yard.docket().pk, make_device("Handheld")
    server = Server(tmp_path, key, docket)
    yield server
    server.stop()


CODES = [f"P{n:02}" for n in range(40)]


def _scans(docket, codes, what="sent"):
    start = timezone.now() - timedelta(hours=3)
    said = {"what": what, "docket": docket}
    return [
        {"id": str(uuid4()), "seq": seq, "happened": (start + timedelta(seconds=seq)).isoformat(), "tag": code, **said}
        for seq, code in enumerate(codes)
    ]


def _in_small_batches(server, scans):
    """Five at a time, each batch sent twice."""
    for first in range(0, len(scans), 5):
        for _ in range(2):
            server.post(scans[first : first + 5])


def test_a_server_killed_at_any_point_of_a_batch_and_started_again_has_it_once_and_so_have_two_at_once(server):
    server.start()
    for at, point in enumerate(POINTS):
        scans = _scans(server.docket, CODES[10 * at : 10 * at + 10])
        server.dies_of(point, scans)
        server.start()
        committed = point == "after commit"
        assert server.stored(scans) == ([10, 10] if committed else [0, 0]), point
        assert server.post(scans) == ["already had" if committed else "recorded"] * 10, point
        assert server.stored(scans) == [10, 10], point
        assert server.post(scans) == ["already had"] * 10, point

    both = [_scans(server.docket, CODES[30:]), _scans(server.docket, CODES[30:], "received")]
    with ThreadPoolExecutor(2) as phones:
        list(phones.map(lambda scans: _in_small_batches(server, scans), both))
    assert [server.stored(scans) for scans in both] == [[10, 10], [10, 10]]
    assert server.ask("/replay", None) == []
