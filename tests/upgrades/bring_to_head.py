"""Fills an empty database with the rows of an earlier version, at the schema of that version, and brings it to head:
migrated, replayed (which fails where state and ledger disagree), and asked to change an event, which it must refuse.

One process for all the versions, and one database that is taken from each of them to the next, of which each has a
copy: a start of its own and all the migrations before it take longer than the rest.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import django

from tests.upgrades.shape import shape


def bring(path: Path) -> None:
    """From the versions before this one to head, of a copy."""
    from django.core.management import call_command
    from django.db import connection
    from django.db.migrations.executor import MigrationExecutor
    from django.db.migrations.loader import MigrationLoader

    saved = json.loads(path.read_text())
    targets = [tuple(target) for target in saved["migrations"]]
    executor = MigrationExecutor(connection)
    if not set(targets) <= executor.loader.graph.nodes.keys():  # an empty database would get them squashed
        executor.loader = MigrationLoader(connection, replace_migrations=False)
    executor.migrate(targets)
    apps = executor.loader.project_state(targets).apps
    with a_copy(path.stem):
        print(f"{path.name}: {load(apps, saved['rows'])} rows went in")
        call_command("migrate", interactive=False, verbosity=0)
        call_command("replay")
        for words in refusals():
            print(f"{path.name} refused: {words}")
        Path(os.environ["SHAPES"], path.name).write_text(json.dumps(shape(connection)))


@contextmanager
def a_copy(name: str) -> Iterator[None]:
    """Within it, the connection is to a copy of the database."""
    from django.db import connection

    settings = connection.settings_dict
    trunk, copy = settings["NAME"], f"{settings['NAME']}-{name}"
    connection.close()
    if connection.vendor == "sqlite":
        shutil.copy(trunk, copy)
    else:
        with connection._nodb_cursor() as cursor:
            cursor.execute(f'CREATE DATABASE "{copy}" TEMPLATE "{trunk}"')
    settings["NAME"] = copy
    yield
    connection.close()
    settings["NAME"] = trunk
    if connection.vendor == "postgresql":
        with connection._nodb_cursor() as cursor:
            cursor.execute(f'DROP DATABASE "{copy}" WITH (FORCE)')


def load(apps: Any, saved: dict[str, list[dict[str, Any]]]) -> int:
    """How many rows went in, by the models of that version."""
    from django.db import transaction

    with transaction.atomic():  # foreign keys are checked at its end, so the order of tables does not matter
        for label, rows in saved.items():
            model = apps.get_model(label)
            model._base_manager.all().delete()  # what migrations seeded; the saved rows have it as it was then
            model._base_manager.bulk_create([_row(model, values) for values in rows])
    return sum(len(rows) for rows in saved.values())


def _row(model: Any, values: dict[str, Any]) -> Any:
    fields = {field.attname: field for field in model._meta.concrete_fields}
    return model(**{name: _value(fields[name], value) for name, value in values.items()})


def _value(field: Any, value: Any) -> Any:
    return (field.target_field if field.is_relation else field).to_python(value)


def refusals() -> list[str]:
    """What the database says to a statement that would change the ledger. It takes none of them."""
    from django.db import IntegrityError, connection

    said = []
    for statement in ("UPDATE inventory_event SET seq = 99", "DELETE FROM inventory_event"):
        try:
            connection.cursor().execute(statement)
        except IntegrityError as refusal:
            said.append(str(refusal))
        else:
            raise SystemExit("the ledger took " + statement)
    return said


if __name__ == "__main__":
    django.setup()
    for each in sys.argv[1:]:
        bring(Path(each))
