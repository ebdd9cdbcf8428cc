"""The SQLite database, whole, by SQLite's own backup interface: safe while others read and write.

https://www.sqlite.org/backup.html
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from django.db import connection

NAME = "database.sqlite3"


def dump(folder: Path) -> None:
    _copy(_file_of_the_record(), folder / NAME)
    with closing(sqlite3.connect(folder / NAME)) as copy:
        copy.execute("PRAGMA journal_mode=DELETE")


def load(folder: Path, _manifest: dict[str, Any]) -> None:
    """Into the file in use, page by page under a lock, so that no reader ever sees half of it."""
    target = _file_of_the_record()
    connection.close()
    _copy(folder / NAME, target)
    with closing(sqlite3.connect(target)) as restored:
        restored.execute("PRAGMA journal_mode=WAL")


def _file_of_the_record() -> Path:
    connection.ensure_connection()
    return Path(str(connection.settings_dict["NAME"]))


def _copy(source: Path, target: Path) -> None:
    with closing(sqlite3.connect(source, timeout=20)) as read, closing(sqlite3.connect(target, timeout=20)) as written:
        read.backup(written)
