"""A database as of each landed version migrates to head, with the ledger's triggers standing and replay agreeing."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings

from tests import snapshot
from tests.environment import ENGINE, ONCE

pytestmark = [pytest.mark.django_db, pytest.mark.slow]  # it has a database of its own; so marked it runs early
HERE = Path(__file__).parent


def _migrations(path: Path) -> list[str]:
    """The newest of each of our own rooms: in the order of their numbers, so is the order of versions."""
    newest = dict(json.loads(path.read_text())["migrations"])
    return [newest["inventory"], newest["jobs"]]


VERSIONS = sorted(HERE.glob("*.json"), key=_migrations)
if ONCE and ENGINE != "sqlite":
    VERSIONS = VERSIONS[:1]  # the oldest meets every migration there is


def test_a_database_of_each_earlier_version_comes_to_head(tmp_path):
    with snapshot.database(tmp_path, migrated=False) as url:
        environment = os.environ | {"POURBACK_DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "config.settings"}
        done = subprocess.run(
            [sys.executable, "-m", "tests.upgrades.bring_to_head", *map(str, VERSIONS)],
            cwd=settings.BASE_DIR, env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert VERSIONS
    for version in VERSIONS:
        assert f"{version.name}: " in done.stdout
        assert done.stdout.count(f"{version.name} refused:") == 2
