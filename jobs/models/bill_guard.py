"""An issued bill is never edited, and the database itself refuses: its row, its lines and its tax, none of them
changed, removed, or added to.

The triggers are put up after every `migrate`, as the ledger's are (see inventory.models.guard): SQLite drops them
when a later migration rebuilds a table.
"""

from __future__ import annotations

from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from inventory.models import triggers

BILL, PARTS = "jobs_bill", ("jobs_billline", "jobs_billtax")
REFUSAL = "an issued bill is never changed: give it back with a credit note"
FUNCTION = "issued_bills_are_frozen"
POSTGRESQL_FUNCTION = f"""
CREATE OR REPLACE FUNCTION {FUNCTION}() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE frozen boolean;
BEGIN
    IF TG_TABLE_NAME = '{BILL}' THEN
        frozen := OLD.issued_at IS NOT NULL;
    ELSE
        SELECT issued_at IS NOT NULL INTO frozen FROM {BILL} WHERE id = OLD.bill_id;
    END IF;
    IF frozen THEN
        RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'restrict_violation';
    END IF;
    IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
    RETURN NEW;
END $$
"""

ADDING = "nothing_is_added_to_an_issued_bill"
POSTGRESQL_ADDING = f"""
CREATE OR REPLACE FUNCTION {ADDING}() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF (SELECT issued_at FROM {BILL} WHERE id = NEW.bill_id) IS NOT NULL THEN
        RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'restrict_violation';
    END IF;
    RETURN NEW;
END $$
"""


def _sqlite(table: str) -> dict[str, str]:
    issued = f"(SELECT issued_at FROM {BILL} WHERE id = OLD.bill_id)" if table in PARTS else "OLD.issued_at"
    return {
        f"{table}_no_{action.lower()}": f'CREATE TRIGGER "{table}_no_{action.lower()}" BEFORE {action} ON "{table}" '
        f"WHEN {issued} IS NOT NULL BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        for action in ("UPDATE", "DELETE")
    } | (_sqlite_adding(table) if table in PARTS else {})


def _sqlite_adding(table: str) -> dict[str, str]:
    """Nor is a row put on it, or moved there from a draft."""
    issued = f"(SELECT issued_at FROM {BILL} WHERE id = NEW.bill_id)"
    return {
        f"{table}_no_{word}": f'CREATE TRIGGER "{table}_no_{word}" BEFORE {action} ON "{table}" '
        f"WHEN {issued} IS NOT NULL BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        for word, action in (("insert", "INSERT"), ("move", "UPDATE OF bill_id"))
    }


def _postgresql(table: str) -> dict[str, str]:
    whens = {f"{table}_frozen": ("UPDATE OR DELETE", FUNCTION)}
    if table in PARTS:
        whens[f"{table}_no_insert"] = ("INSERT OR UPDATE OF bill_id", ADDING)
    return {
        name: f'CREATE TRIGGER "{name}" BEFORE {when} ON "{table}" FOR EACH ROW EXECUTE FUNCTION {function}()'
        for name, (when, function) in whens.items()
    }


def _wanted(connection: BaseDatabaseWrapper) -> dict[str, tuple[str, str]]:
    make = {"sqlite": _sqlite, "postgresql": _postgresql}[connection.vendor]
    there = set(connection.introspection.table_names())
    tables = [table for table in (BILL, *PARTS) if table in there]
    return {name: (table, sql) for table in tables for name, sql in make(table).items()}


def missing(using: str = DEFAULT_DB_ALIAS) -> list[str]:
    """Triggers that should stand and do not."""
    connection = connections[using]
    return sorted(_wanted(connection).keys() - triggers.standing(connection))


def install(using: str = DEFAULT_DB_ALIAS) -> None:
    """Put up whatever is missing; as often as wanted."""
    triggers.put_up(connections[using], _wanted(connections[using]), (POSTGRESQL_FUNCTION, POSTGRESQL_ADDING))


def remove(using: str = DEFAULT_DB_ALIAS) -> None:
    """Take the guard down: only for tests that must empty the database behind them."""
    triggers.take_down(connections[using], _wanted(connections[using]))


def after_migrate(using: str, **kwargs: Any) -> None:
    install(using)
