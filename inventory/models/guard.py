"""Events and submissions are append-only, and the database itself refuses to change or remove one.

The triggers are put up after every `migrate`, not by a migration: on SQLite a later change of a column rebuilds the
table and silently drops its triggers. INSERT OR REPLACE is refused too, as long as `recursive_triggers` is on (see
the settings). What no trigger can stop is the owner of the database, who may drop it: run the program on PostgreSQL
with a role that does not own the tables where that matters.
"""

from __future__ import annotations

from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from inventory.models import triggers
from inventory.models.ledger import Event, Submission

GUARDED = (Event._meta.db_table, Submission._meta.db_table)
FUNCTION = "ledger_is_append_only"


def _sqlite(table: str) -> dict[str, str]:
    refusal = f"BEGIN SELECT RAISE(ABORT, '{table} is append-only: reverse an event with another'); END"
    names = {f"{table}_no_{action.lower()}": action for action in ("UPDATE", "DELETE")}
    return {name: f'CREATE TRIGGER "{name}" BEFORE {action} ON "{table}" {refusal}' for name, action in names.items()}


def _postgresql(table: str) -> dict[str, str]:
    rows, whole = f"{table}_no_change", f"{table}_no_truncate"
    return {
        rows: f'CREATE TRIGGER "{rows}" BEFORE UPDATE OR DELETE ON "{table}" '
        f"FOR EACH ROW EXECUTE FUNCTION {FUNCTION}()",
        whole: f'CREATE TRIGGER "{whole}" BEFORE TRUNCATE ON "{table}" '
        f"FOR EACH STATEMENT EXECUTE FUNCTION {FUNCTION}()",
    }


POSTGRESQL_FUNCTION = f"""
CREATE OR REPLACE FUNCTION {FUNCTION}() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% is append-only: reverse an event with another', TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
END $$
"""


def _wanted(connection: BaseDatabaseWrapper) -> dict[str, tuple[str, str]]:
    """Name of each trigger that should stand: its table and the statement that makes it."""
    make = {"sqlite": _sqlite, "postgresql": _postgresql}[connection.vendor]
    there = set(connection.introspection.table_names())
    return {name: (table, sql) for table in GUARDED if table in there for name, sql in make(table).items()}


def missing(using: str = DEFAULT_DB_ALIAS) -> list[str]:
    """Triggers that should stand and do not."""
    connection = connections[using]
    return sorted(_wanted(connection).keys() - triggers.standing(connection))


def install(using: str = DEFAULT_DB_ALIAS) -> None:
    """Put up whatever is missing; as often as wanted."""
    triggers.put_up(connections[using], _wanted(connections[using]), (POSTGRESQL_FUNCTION,))


def remove(using: str = DEFAULT_DB_ALIAS) -> None:
    """Take the guard down: only for tests that must empty the database behind them."""
    triggers.take_down(connections[using], _wanted(connections[using]))


def after_migrate(using: str, **kwargs: Any) -> None:
    install(using)
