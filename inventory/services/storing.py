"""Rows stored and changed by plain SQL: a tenth of what the ORM's bulk_create takes.

SQLite runs one statement for many rows; PostgreSQL takes whole columns at once, as arrays. Values are given as the
database takes them (inventory.selectors.rows). Who may store what is not decided here: events and submissions are only
ever stored by services.recording.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from typing import Any

from django.db import connection, models

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
        _send(f"{into} SELECT * FROM unnest({_arrays(model, columns)}){end}", _by_column(rows))


def store_one(model: type[models.Model], columns: tuple[str, ...], row: Sequence[Any]) -> int:
    """Insert one row and give its new id."""
    sql = f'INSERT INTO "{model._meta.db_table}" ({_named(columns)}) VALUES ({_holes(columns)}) RETURNING "id"'
    with connection.cursor() as cursor:
        cursor.execute(sql, row)
        return int(cursor.fetchone()[0])


def change(model: type[models.Model], columns: tuple[str, ...], rows: Rows) -> None:
    """Set columns of rows known by their id; each row is (*values, id)."""
    if not rows:
        return
    table = f'"{model._meta.db_table}"'
    if _by_row(rows):
        each = ", ".join(f'"{column}" = %s' for column in columns)
        _run(f'UPDATE {table} SET {each} WHERE "id" = %s', rows)
    else:
        each = ", ".join(f'"{column}" = v."{column}"' for column in columns)
        values = f"unnest({_arrays(model, (*columns, 'id'))}) AS v({_named((*columns, 'id'))})"
        _send(f'UPDATE {table} SET {each} FROM {values} WHERE {table}."id" = v."id"', _by_column(rows))


def _by_row(rows: Rows) -> bool:
    return connection.vendor == "sqlite" or len(rows) == 1


def _run(sql: str, rows: Rows) -> None:
    if len(rows) == 1:
        _send(sql, rows[0])
    else:
        with connection.cursor() as cursor:
            cursor.executemany(sql, rows)


_WAITING: ContextVar[list[tuple[str, Sequence[Any]]] | None] = ContextVar("waiting", default=None)


@contextmanager
def together() -> Iterator[None]:
    """What is stored and changed inside goes to PostgreSQL in one message at the end, since each message is a way there
    and back. Nothing inside may read it again. SQLite has no such way, and gets each statement at once."""
    if connection.vendor != "postgresql":
        yield
        return
    waiting: list[tuple[str, Sequence[Any]]] = []
    before = _WAITING.set(waiting)
    try:
        yield
    finally:
        _WAITING.reset(before)
    if waiting:
        params = [value for _, values in waiting for value in values]
        with connection.cursor() as cursor:
            cursor.execute("; ".join(sql for sql, _ in waiting), params)


def _send(sql: str, params: Sequence[Any]) -> None:
    if (waiting := _WAITING.get()) is not None:
        waiting.append((sql, params))
        return
    with connection.cursor() as cursor:
        cursor.execute(sql, params)


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
