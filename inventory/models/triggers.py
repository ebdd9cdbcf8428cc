"""Triggers that keep an invariant in the database itself: seen, put up and taken down, on SQLite and PostgreSQL."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.db.backends.base.base import BaseDatabaseWrapper

# By name: the table it stands on and the statement that makes it.
Triggers = Mapping[str, tuple[str, str]]
_NAMES = {
    "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
    "postgresql": "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'",
}


def standing(connection: BaseDatabaseWrapper) -> set[str]:
    with connection.cursor() as cursor:
        cursor.execute(_NAMES[connection.vendor])
        return {row[0] for row in cursor.fetchall()}


def put_up(connection: BaseDatabaseWrapper, wanted: Triggers, functions: Iterable[str]) -> None:
    """Whatever is missing, as often as wanted; `functions` are what PostgreSQL's triggers call."""
    there = standing(connection)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql" and wanted:
            for function in functions:
                cursor.execute(function)
        for name in sorted(wanted.keys() - there):
            cursor.execute(wanted[name][1])


def take_down(connection: BaseDatabaseWrapper, wanted: Triggers) -> None:
    there = standing(connection)
    with connection.cursor() as cursor:
        for name in sorted(wanted.keys() & there):
            table = f' ON "{wanted[name][0]}"' if connection.vendor == "postgresql" else ""
            cursor.execute(f'DROP TRIGGER "{name}"{table}')
