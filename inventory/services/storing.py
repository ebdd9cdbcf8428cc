"""Rows stored and changed by plain SQL: a tenth of what the ORM's bulk_create takes.

SQLite runs one statement for many rows; PostgreSQL takes whole columns at once, as arrays. Values are given as the
database takes them (inventory.selectors.rows). Who may store what is not decided here: events and submissions are only
ever stored by services.recording.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

from django.db import connection, models

from inventory.selectors.messages import Questions, ask, tell

Rows = Sequence[Sequence[Any]]


def store(model: type[models.Model], columns: tuple[str, ...], rows: Rows, *, unless_there: bool = False) -> None:
    """Insert rows; `unless_there` leaves out those the database has already."""
    if not rows:
        return
    end = " ON CONFLICT DO NOTHING" if unless_there else ""
    into = f'INSERT INTO "{model._meta.db_table}" ({_named(columns)})'
    if _by_row(rows):
        _run(f"{into} VALUES ({_holes(columns)}){end}", rows)
    else:
        tell(f"{into} SELECT * FROM unnest({_arrays(model, columns)}){end}", _by_column(rows))


def next_id(model: type[models.Model], questions: Questions) -> Callable[[], int | None]:
    """On PostgreSQL the id of the next row, known before it is stored, so that what points to it can go with it."""
    if connection.vendor != "postgresql":
        return lambda: None
    number = questions.rows("SELECT nextval(pg_get_serial_sequence(%s, 'id'))", [model._meta.db_table])
    return lambda: int(number()[0][0])


def store_one(model: type[models.Model], columns: tuple[str, ...], row: Sequence[Any], pk: int | None = None) -> int:
    """Insert one row, under the id that `next_id` gave, and give its id."""
    if pk is not None:
        store(model, ("id", *columns), [(pk, *row)])
        return pk
    sql = f'INSERT INTO "{model._meta.db_table}" ({_named(columns)}) VALUES ({_holes(columns)}) RETURNING "id"'
    return int(ask([(sql, row)])[0][0][0])


def change(model: type[models.Model], columns: tuple[str, ...], rows: Rows) -> None:
    """Set columns of rows known by their primary key; each row is (*values, key)."""
    if not rows:
        return
    table, pk = f'"{model._meta.db_table}"', str(model._meta.pk.column)
    if _by_row(rows):
        each = ", ".join(f'"{column}" = %s' for column in columns)
        _run(f'UPDATE {table} SET {each} WHERE "{pk}" = %s', rows)
    else:
        each = ", ".join(f'"{column}" = v."{column}"' for column in columns)
        values = f"unnest({_arrays(model, (*columns, pk))}) AS v({_named((*columns, pk))})"
        tell(f'UPDATE {table} SET {each} FROM {values} WHERE {table}."{pk}" = v."{pk}"', _by_column(rows))


def add_up(model: type[models.Model], columns: tuple[str, ...], rows: Rows, *, key: str, count: str) -> None:
    """Insert rows; where one with its `key` is there, its `count` is added to that one's."""
    if not rows:
        return
    table = f'"{model._meta.db_table}"'
    end = f' ON CONFLICT ("{key}") DO UPDATE SET "{count}" = {table}."{count}" + excluded."{count}"'
    into = f"INSERT INTO {table} ({_named(columns)})"
    if _by_row(rows):
        _run(f"{into} VALUES ({_holes(columns)}){end}", rows)
    else:
        tell(f"{into} SELECT * FROM unnest({_arrays(model, columns)}){end}", _by_column(rows))


def _by_row(rows: Rows) -> bool:
    return connection.vendor == "sqlite" or len(rows) == 1


def _run(sql: str, rows: Rows) -> None:
    if len(rows) == 1:
        tell(sql, rows[0])
    else:
        with connection.cursor() as cursor:
            cursor.executemany(sql, rows)


def _named(columns: tuple[str, ...]) -> str:
    return ", ".join(f'"{column}"' for column in columns)


def _holes(columns: tuple[str, ...]) -> str:
    return ", ".join(["%s"] * len(columns))


@cache
def _arrays(model: type[models.Model], columns: tuple[str, ...]) -> str:
    """A hole for each column, cast to an array of the column's own type."""
    types = {field.column: field.rel_db_type(connection) for field in model._meta.concrete_fields if field.primary_key}
    types |= {field.column: field.db_type(connection) for field in model._meta.concrete_fields if not field.primary_key}
    return ", ".join(f"%s::{types[column]}[]" for column in columns)


def _by_column(rows: Rows) -> list[list[Any]]:
    return [list(column) for column in zip(*rows, strict=True)]
