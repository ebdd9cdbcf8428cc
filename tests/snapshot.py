"""One migrated database for all the processes of a run: the first that needs it migrates, the others start from a copy.

Migrating an empty database takes as long as some hundred tests, and each process of a run did it again.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

from tests.environment import ENGINE, SHARED

FILE, MARK = SHARED / "migrated.sqlite3", SHARED / "migrated"
# Of this run alone: the server may be one that is kept, or that another run is using.
TEMPLATE = f"pourback_{SHARED.name.replace('-', '_').lower()}"


def install() -> None:
    """Let Django's own making of a test database go through the copy."""
    if ENGINE == "sqlite":
        from django.db.backends.sqlite3.creation import DatabaseCreation as Creation

        _wrap(Creation, _copy_file, _keep_file)
    else:
        from django.db.backends.postgresql.creation import DatabaseCreation as Creation

        _wrap(Creation, _name_template, _keep_template)


def _wrap(creation: Any, start_from_copy: Any, keep_copy: Any) -> None:
    make, create = creation._create_test_db, creation.create_test_db

    def _create_test_db(self: Any, *given: Any, **named: Any) -> str:
        start_from_copy(self, before=True)
        name = make(self, *given, **named)
        start_from_copy(self, before=False)
        return name

    def create_test_db(self: Any, *given: Any, **named: Any) -> str:
        with _one_at_a_time(SHARED / "migrated.lock", alone=not MARK.exists()):
            name = create(self, *given, **named)
            if not MARK.exists():
                keep_copy(self, name)
                MARK.touch()
        return name

    creation._create_test_db, creation.create_test_db = _create_test_db, create_test_db


@contextmanager
def _one_at_a_time(path: Path, alone: bool) -> Iterator[None]:
    with path.open("w") as lock:
        if alone:
            fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def _copy_file(creation: Any, before: bool) -> None:
    if not before and FILE.exists():
        # The shared database in memory lives as long as one connection to it is open: Django closes its own meanwhile.
        name = creation._get_test_db_name()
        creation.kept = sqlite3.connect(name, uri=True, check_same_thread=False)
        with closing(sqlite3.connect(FILE)) as migrated:
            migrated.backup(creation.kept)


def _keep_file(creation: Any, name: str) -> None:
    creation.connection.ensure_connection()
    with closing(sqlite3.connect(FILE)) as file:
        creation.connection.connection.backup(file)


def _name_template(creation: Any, before: bool) -> None:
    if before and MARK.exists():
        creation.connection.settings_dict["TEST"]["TEMPLATE"] = TEMPLATE


def _keep_template(creation: Any, name: str) -> None:
    creation.connection.close()
    with creation._nodb_cursor() as cursor:
        cursor.execute(f'CREATE DATABASE {TEMPLATE} TEMPLATE "{name}"')


def remove() -> None:
    """What a run leaves on a server that goes on; called once, when its last process is done."""
    if ENGINE == "sqlite" or not MARK.exists():
        return
    import psycopg

    with psycopg.connect(os.environ["POURBACK_DATABASE_URL"], autocommit=True) as server:
        server.execute(f"DROP DATABASE IF EXISTS {TEMPLATE} WITH (FORCE)")


@contextmanager
def database(folder: Path, migrated: bool = True) -> Iterator[str]:
    """The URL of a database of its own, for what runs in a process of its own. The test database must be set up."""
    if ENGINE == "sqlite":
        path = folder / "yard.sqlite3"
        if migrated:
            shutil.copy(FILE, path)
        yield f"sqlite:///{path}"
        return
    import psycopg

    server, name = os.environ["POURBACK_DATABASE_URL"], f"own_{uuid4().hex[:12]}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}" + (f" TEMPLATE {TEMPLATE}" if migrated else ""))
        yield urlsplit(server)._replace(path=f"/{name}").geturl()
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")
