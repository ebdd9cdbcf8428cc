"""The PostgreSQL database, table by table with COPY in one snapshot.

Nothing but the server itself is needed, and the archive can be restored on any later PostgreSQL: the tables are made
by the same migrations the archive was made under, filled, and then migrated on.
https://www.postgresql.org/docs/current/sql-copy.html
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.db import connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

FOLDER = "tables"


def dump(folder: Path) -> None:
    (folder / FOLDER).mkdir()
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        for table in sorted(connection.introspection.table_names(cursor)):
            _dump_table(cursor, table, folder / FOLDER)


def _dump_table(cursor: Any, table: str, folder: Path) -> None:
    columns = [column.name for column in connection.introspection.get_table_description(cursor, table)]
    (folder / f"{table}.columns").write_text(json.dumps(columns))
    with (folder / f"{table}.copy").open("wb") as file, cursor.copy(f"COPY {_named(table, columns)} TO STDOUT") as rows:
        for part in rows:
            file.write(part)


def load(folder: Path, manifest: dict[str, Any]) -> None:
    """Every table anew. All in one transaction but for the making of the tables."""
    _drop_everything()
    executor, leaves = to_make({(app, name) for app, name in manifest["migrations"]})
    executor.migrate(leaves)
    with transaction.atomic(), connection.cursor() as cursor:
        _take_triggers_down(cursor)
        tables = connection.introspection.table_names(cursor)
        cursor.execute(f"TRUNCATE {', '.join(map(_quoted, tables))} CASCADE")
        for file in sorted((folder / FOLDER).glob("*.copy")):
            _load_table(cursor, file)
        _wind_sequences_on(cursor, tables)


def _take_triggers_down(cursor: Any) -> None:
    """Everybody's: rows that were allowed once are put back in any order. The next migrate puts them up again."""
    cursor.execute(
        "SELECT t.tgname, c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
        "WHERE NOT t.tgisinternal AND pg_table_is_visible(c.oid)"
    )
    for name, table in cursor.fetchall():
        cursor.execute(f"DROP TRIGGER {_quoted(name)} ON {_quoted(table)}")


def _drop_everything() -> None:
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"DROP TABLE IF EXISTS {_quoted(table)} CASCADE")


def _load_table(cursor: Any, file: Path) -> None:
    columns = json.loads(file.with_suffix(".columns").read_text())
    with file.open("rb") as rows, cursor.copy(f"COPY {_named(file.stem, columns)} FROM STDIN") as taken:
        while part := rows.read(1 << 20):
            taken.write(part)


def _wind_sequences_on(cursor: Any, tables: list[str]) -> None:
    for table in tables:
        for sequence in connection.introspection.get_sequences(cursor, table):
            table_name, column = _quoted(sequence["table"]), _quoted(sequence["column"])
            cursor.execute(
                f"SELECT setval(pg_get_serial_sequence(%s, %s), COALESCE(MAX({column}), 1), MAX({column}) IS NOT NULL)"
                f" FROM {table_name}",
                [table_name, sequence["column"]],
            )


def to_make(applied: set[tuple[str, str]]) -> tuple[MigrationExecutor, list[tuple[str, str]]]:
    """What makes exactly the tables of a database that had these applied, and the last of them, to migrate to.

    A squashed migration stands for those it replaces where all of them were applied, as Django has it for the database
    at hand; an archive may have had some of them only.
    """
    executor = MigrationExecutor(connection)
    loader = executor.loader = MigrationLoader(connection, replace_migrations=False)
    for key, squashed in loader.replacements.items():
        if applied >= set(squashed.replaces):
            loader.graph.remove_replaced_nodes(key, squashed.replaces)
            applied = applied | {key}
        else:
            loader.graph.remove_replacement_node(key, squashed.replaces)
    known = applied & loader.graph.nodes.keys()
    return executor, sorted(key for key in known if not _children(loader.graph, key) & known)


def _children(graph: Any, key: tuple[str, str]) -> set[tuple[str, str]]:
    return {child.key for child in graph.node_map[key].children}


def _named(table: str, columns: list[str]) -> str:
    return f"{_quoted(table)} ({', '.join(map(_quoted, columns))})"


def _quoted(name: str) -> str:
    return connection.ops.quote_name(name)
