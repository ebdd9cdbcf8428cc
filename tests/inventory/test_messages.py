"""What goes to the database in one message: in order, none too early, none lost."""

from __future__ import annotations

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory.models import DamageReason
from inventory.selectors.messages import Questions, ask, tell, together

pytestmark = pytest.mark.django_db

INSERT = f'INSERT INTO "{DamageReason._meta.db_table}" ("words", "usual_grade", "withdrawn") VALUES (%s, %s, %s)'
COUNT = f'SELECT count(*) FROM "{DamageReason._meta.db_table}" WHERE "words" LIKE %s'


def words(name: str) -> None:
    tell(INSERT, [f"told {name}", "watch", False])


def test_what_is_told_is_there_for_the_next_question():
    with transaction.atomic(), together():
        words("a")
        words("b")
        assert ask([(COUNT, ["told%"]), (COUNT, ["told a"])]) == [[(2,)], [(1,)]]
        words("c")
    assert ask([(COUNT, ["told%"])]) == [[(3,)]]


def test_no_question_keeps_what_waits():
    with transaction.atomic(), together():
        words("a")
        assert ask([]) == []
    assert DamageReason.objects.filter(words="told a").exists()


def test_the_orm_sees_what_was_told_before_it():
    with transaction.atomic(), together():
        words("a")
        assert DamageReason.objects.filter(words="told a").update(usual_grade="unfit") == 1
        words("b")
        with transaction.atomic():
            assert DamageReason.objects.filter(words__startswith="told").count() == 2


def test_what_is_told_inside_a_savepoint_goes_with_it():
    with transaction.atomic(), together():
        words("a")
        with pytest.raises(ZeroDivisionError), transaction.atomic():
            words("b")
            raise ZeroDivisionError
    assert [*DamageReason.objects.filter(words__startswith="told").values_list("words", flat=True)] == ["told a"]


def test_a_fault_in_what_waits_is_heard_at_the_end_and_nothing_stays():
    with pytest.raises(DatabaseError), transaction.atomic(), together():
        words("a")
        tell('INSERT INTO "no_such_table" VALUES (%s)', [1])
    assert not DamageReason.objects.filter(words="told a").exists()


def test_many_values_are_asked_in_parts(monkeypatch):
    monkeypatch.setattr("inventory.selectors.messages.AT_ONCE", 2)
    for name in "abcde":
        words(name)
    questions = Questions()
    sql = f'SELECT "words" FROM "{DamageReason._meta.db_table}" WHERE "words" IN ({{}})'
    found = questions.rows_of_all(sql, [f"told {name}" for name in "abcdex"])
    none = questions.rows_of_all(sql, [])
    questions.ask()
    assert sorted(found()) == [(f"told {name}",) for name in "abcde"]
    assert none() == []


def test_on_postgresql_all_of_it_is_one_message():
    with CaptureQueriesContext(connection) as seen, together():
        words("a")
        words("b")
        ask([(COUNT, ["told%"]), (COUNT, ["told a"])])
    assert len(seen) == (1 if connection.vendor == "postgresql" else 4)
