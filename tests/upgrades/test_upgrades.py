"""A database as of each landed version migrates to head, with the ledger's triggers standing and replay agreeing."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from inventory.services.archiving.postgresql import to_make
from tests import snapshot
from tests.environment import ENGINE, ONCE
from tests.upgrades.shape import shape

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
        environment = os.environ | {"POURBACK_DATABASE_URL": url, "SHAPES": str(tmp_path)}
        done = subprocess.run(
            [sys.executable, "-m", "tests.upgrades.bring_to_head", *map(str, VERSIONS)],
            cwd=settings.BASE_DIR, env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert VERSIONS
    for version in VERSIONS:
        assert f"{version.name}: " in done.stdout
        assert done.stdout.count(f"{version.name} refused:") == 2
        assert json.loads((tmp_path / version.name).read_text()) == shape(connection), "an empty one comes to another"


def _each_by_itself(backwards):
    """Every migration there is, in one of the two orders of getting there that differ most."""
    loader = MigrationLoader(None, replace_migrations=False)
    for key, squashed in loader.replacements.items():
        loader.graph.remove_replacement_node(key, squashed.replaces)
    leaves = sorted(loader.graph.leaf_nodes(), reverse=backwards)
    return list(dict.fromkeys(key for leaf in leaves for key in loader.graph.forwards_plan(leaf)))


@pytest.mark.one_database
@pytest.mark.parametrize("backwards", [False, True], ids=["the gear first", "the jobs first"])
def test_wherever_a_database_stands_it_gets_what_it_lacks_and_an_archive_of_it_its_tables(backwards, monkeypatch):
    order = _each_by_itself(backwards)
    assert len(order) > 80
    for many in (many for many, key in enumerate(order, 1) if key[0] in ("inventory", "jobs")):
        had, lacking = set(order[:many]), order[many:]
        monkeypatch.setattr(MigrationRecorder, "applied_migrations", lambda self, had=had: dict.fromkeys(had))
        executor = MigrationExecutor(connection)
        executor.loader.check_consistent_history(connection)
        plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
        assert sorted(_those_in(plan)) == sorted(lacking)
        monkeypatch.setattr(MigrationRecorder, "applied_migrations", lambda self: {})  # what is restored into
        executor, leaves = to_make(had)
        assert set(_those_in(executor.migration_plan(leaves))) == had


def _those_in(plan):
    """Each by itself: a squashed migration is those it replaces."""
    return [key for migration, _ in plan for key in migration.replaces or [(migration.app_label, migration.name)]]
