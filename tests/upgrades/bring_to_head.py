"""Fills an empty database with the rows of an earlier version, at the schema of that version, and brings it to head:
migrated, replayed (which fails where state and ledger disagree), and asked to change an event, which it must refuse.

One process for all of it: each start of its own takes as long as the work.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import django


def load(path: Path) -> int:
    """How many rows went in. The database must be empty."""
    from django.db import connection, transaction
    from django.db.migrations.executor import MigrationExecutor

    saved = json.loads(path.read_text())
    targets = [tuple(target) for target in saved["migrations"]]
    executor = MigrationExecutor(connection)
    executor.migrate(targets)
    apps = executor.loader.project_state(targets).apps
    with transaction.atomic():  # foreign keys are checked at its end, so the order of tables does not matter
        for label, rows in saved["rows"].items():
            model = apps.get_model(label)
            model._base_manager.all().delete()  # what migrations seeded; the saved rows have it as it was then
            model._base_manager.bulk_create([_row(model, values) for values in rows])
    return sum(len(rows) for rows in saved["rows"].values())


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
    from django.core.management import call_command

    print(f"{load(Path(sys.argv[1]))} rows went in")
    call_command("migrate", interactive=False, verbosity=0)
    call_command("replay")
    for words in refusals():
        print("refused:", words)
