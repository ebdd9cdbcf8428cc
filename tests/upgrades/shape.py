"""What the tables of a database are, whatever way it came to them: the order of columns in a table does not count."""

from __future__ import annotations

import re
from typing import Any

POSTGRESQL = (
    """
    SELECT table_name, 'column', column_name, data_type, is_nullable, column_default, is_identity,
           character_maximum_length, numeric_precision, numeric_scale
      FROM information_schema.columns WHERE table_schema = 'public'
    """,
    """
    SELECT conrelid::regclass, 'constraint', conname, pg_get_constraintdef(oid)
      FROM pg_constraint WHERE connamespace = 'public'::regnamespace AND contype <> 'n'
    """,
    "SELECT tablename, 'index', indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'",
    "SELECT tgrelid::regclass, 'trigger', tgname, pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal",
)


def shape(connection: Any) -> list[str]:
    """One line for each column, constraint, index and trigger there is."""
    with connection.cursor() as cursor:
        return sorted(set(_sqlite(cursor) if connection.vendor == "sqlite" else _postgresql(cursor)))


def _postgresql(cursor: Any) -> Any:
    for question in POSTGRESQL:
        cursor.execute(question)
        for row in cursor.fetchall():
            yield " ".join(map(str, row))


def _sqlite(cursor: Any) -> Any:
    cursor.execute("SELECT type, tbl_name, name, sql FROM sqlite_master WHERE sql IS NOT NULL")
    for kind, table, name, sql in cursor.fetchall():
        parts = _parts(sql) if kind == "table" else [sql]
        yield from (f"{table} {kind} {name}: {part}" for part in parts)


def _parts(sql: str) -> list[str]:
    """What stands between the outermost brackets of CREATE TABLE, and what stands after them."""
    found, depth, start = [], 0, 0
    for at, sign in enumerate(sql):
        depth += (sign == "(") - (sign == ")")
        if (sign == "(" and depth == 1) or (sign == "," and depth == 1) or (sign == ")" and depth == 0):
            found.append(sql[start:at])
            start = at + 1
    return [re.sub(r"\s+", " ", part).strip() for part in (*found[1:], sql[start:])]
