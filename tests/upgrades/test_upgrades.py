"""A database as of each landed version migrates to head, with the ledger's triggers standing and replay agreeing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from uuid import uuid4

import psycopg
import pytest
from django.conf import settings

from tests.environment import ENGINE

HERE = Path(__file__).parent
VERSIONS = sorted(path.name for path in HERE.glob("*.json"))


@pytest.fixture
def empty_database(tmp_path):
    """The URL of a database of its own, so that no other test sees the old schema."""
    if ENGINE == "sqlite":
        yield f"sqlite:///{tmp_path / 'old.sqlite3'}"
        return
    server, name = os.environ["POURBACK_DATABASE_URL"], f"upgrade_{uuid4().hex[:12]}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
        base, _, options = server.partition("?")
        yield f"{base.rsplit('/', 1)[0]}/{name}" + (f"?{options}" if options else "")
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


def _run(url: str, *words: str) -> str:
    environment = os.environ | {"POURBACK_DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "config.settings"}
    done = subprocess.run(
        [sys.executable, *words], cwd=settings.BASE_DIR, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_there_is_a_database_to_upgrade_from():
    assert VERSIONS


@pytest.mark.parametrize("version", VERSIONS)
def test_a_database_of_an_earlier_version_comes_to_head(version, empty_database):
    said = _run(empty_database, "-m", "tests.upgrades.bring_to_head", str(HERE / version))
    assert "rows went in" in said
    assert said.count("refused:") == 2
