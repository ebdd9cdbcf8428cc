"""The database refuses to change or remove an event or a submission, whoever asks and after whatever migration."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, models, transaction

from inventory.models import Event, Submission, guard
from tests.inventory.yard import make_yard

TABLES = [Event._meta.db_table, Submission._meta.db_table]


@pytest.fixture
def ledger(yard):
    yard.pieces("AAA")
    return yard


def refused(sql: str) -> None:
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql)


@pytest.mark.parametrize("table", TABLES)
def test_a_raw_update_is_refused(ledger, table):
    refused(f'UPDATE "{table}" SET batch_id = batch_id')


@pytest.mark.parametrize("table", TABLES)
def test_a_raw_delete_is_refused(ledger, table):
    refused(f'DELETE FROM "{table}"')


@pytest.mark.parametrize("table", TABLES)
def test_emptying_the_table_is_refused(ledger, table):
    """PostgreSQL's TRUNCATE fires no row triggers; SQLite's nearest is a DELETE without a condition."""
    connection.check_constraints()  # PostgreSQL truncates nothing while a foreign key waits to be checked
    refused(f'TRUNCATE "{table}" CASCADE' if connection.vendor == "postgresql" else f'DELETE FROM "{table}"')


def test_replacing_a_row_by_inserting_it_again_is_refused(ledger):
    """On SQLite INSERT OR REPLACE deletes behind the back of a trigger unless recursive_triggers is on."""
    table = Event._meta.db_table
    if connection.vendor == "sqlite":
        refused(f'INSERT OR REPLACE INTO "{table}" SELECT * FROM "{table}"')
    else:
        refused(f'INSERT INTO "{table}" SELECT * FROM "{table}" ON CONFLICT (id) DO UPDATE SET seq = 99')


def test_the_orm_is_refused_as_well(ledger):
    event = Event.objects.get()
    event.seq = 5
    for change in (event.save, event.delete, lambda: Event.objects.update(seq=5), lambda: Event.objects.all().delete()):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            change()


def test_nothing_is_missing_after_migrate(db):
    assert guard.missing() == []


@pytest.mark.django_db(transaction=True)
def test_the_guard_stands_again_after_a_later_change_of_a_column():
    """On SQLite this change rebuilds the table and drops its triggers; what runs after `migrate` puts them back."""
    old = Submission._meta.get_field("code")
    new = models.CharField(max_length=41, blank=True)
    new.set_attributes_from_name("code")
    new.model = Submission
    with connection.schema_editor() as editor:
        editor.alter_field(Submission, old, new)
    if connection.vendor == "sqlite":
        assert guard.missing() != []
    call_command("migrate", verbosity=0)
    assert guard.missing() == []
    with connection.schema_editor() as editor:
        editor.alter_field(Submission, new, old)
    call_command("migrate", verbosity=0)
    assert guard.missing() == []
    make_yard().pieces("AAA")
    refused(f'UPDATE "{Submission._meta.db_table}" SET code = code')
