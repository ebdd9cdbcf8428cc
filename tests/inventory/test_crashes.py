"""Killed in the middle of a batch and sent again: nothing lost, nothing doubled. Two processes at once: the same.

A SIGKILL leaves what the operating system has taken over; a power cut is not shown here (synchronous=FULL on SQLite
and fsync on PostgreSQL are what those databases promise for it).
"""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
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


def _scans(docket, codes, what="sent"):
    start = timezone.now() - timedelta(hours=3)
    return [
        {
            "id": str(uuid4()),
            "seq": seq,
            "happened": (start + timedelta(seconds=seq)).isoformat(),
            "what": what,
            "tag": code,
            "docket": docket.pk,
        }
        for seq, code in enumerate(codes)
    ]


@pytest.mark.django_db(transaction=True)
def test_a_batch_killed_at_any_point_and_sent_again_is_there_once_and_so_are_two_at_once(tmp_path):
    yard = make_yard()
    docket = yard.docket()
    codes = [f"P{n:02}" for n in range(40)]
    yard.pieces(*codes)
    _, key = make_device("Handheld")
    points = {point: _scans(docket, codes[10 * at : 10 * at + 10]) for at, point in enumerate(POINTS)}
    both = [_scans(docket, codes[30:]), _scans(docket, codes[30:], "received")]
    file = tmp_path / "batches.json"
    file.write_text(json.dumps({"points": points, "both": both}))
    said = _run(key, file, _database(tmp_path))
    for point in POINTS:
        stored = 10 if point == "after commit" else 0
        assert said["points"][point] == {
            "killed": SIGKILL,
            "stored": [stored, stored],
            "again": ["already had" if stored else "recorded"] * 10,
            "then": [10, 10],
            "third": ["already had"] * 10,
        }, point
    assert said["both"] == {"ended": [0, 0], "stored": [[10, 10], [10, 10]]}
    assert said["differences"] == []


def _run(key: str, file: Path, database: str) -> dict:
    run = subprocess.run(
        [sys.executable, "-m", "tests.inventory.crash_process", key, str(file)],
        cwd=settings.BASE_DIR,
        env=os.environ | {"POURBACK_DATABASE_URL": database},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert run.returncode == 0, run.stderr
    return json.loads(run.stdout.strip().splitlines()[-1])
