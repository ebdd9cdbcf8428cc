"""Two desks that issue at once: numbers without gaps, each given once, nothing billed twice. On both engines."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing

import pytest
from django.db import connection, transaction

from jobs.errors import Refused
from jobs.models import Bill
from jobs.services.billing import draft_bill, issue_bill
from jobs.services.jobs import create_job
from tests.jobs.bills.build import A_DAY, at, day, make_desk

JOBS = 6


def drafts() -> list[Bill]:
    """A draft for each of some jobs, each of which owes something."""
    desk = make_desk()
    desk.terms(A_DAY | {"delivery": {"out": "10.00"}})
    made = []
    for number in range(JOBS):
        job = create_job(
            code=f"K{number}", name="Job", customer=desk.job.customer, yard=desk.yard.yard, starts_on=day(3, 1)
        )
        job.hire_charges.create(
            kind="hire", description="Fixed", on=day(3, 2), quantity=1, unit_amount=5, recorded_at=at(3, 2)
        )
        made.append(draft_bill(job=job, until=day(4, 1), by=None, now=at(4, 1)))
    return made


def on_disk(folder) -> str | None:
    """SQLite's tests live in memory, where nobody waits for a lock: a copy in a file, as a yard has it."""
    if connection.vendor != "sqlite":
        return None
    name = str(folder / "yard.sqlite3")
    with connection.cursor() as cursor:
        cursor.execute("VACUUM INTO %s", [name])
    with closing(sqlite3.connect(name)) as copy:  # or two threads that open it would both want to set this, and one
        copy.execute("PRAGMA journal_mode=WAL")  # would be told that it is locked
    return name


def at_once(acts, name) -> list:
    """Run the acts in threads of their own, started together; what each gave or raised."""
    gate, found = threading.Barrier(len(acts)), [None] * len(acts)

    def run(place, act):
        if name is not None:
            connection.settings_dict = connection.settings_dict | {"NAME": name}
        try:
            gate.wait(10)
            found[place] = act()
        except Exception as fault:
            found[place] = fault
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(place, act)) for place, act in enumerate(acts)]
    for one in threads:
        one.start()
    for one in threads:
        one.join(60)
    return found


def broken_off(bill: Bill):
    """Issued, and then rolled back: the number must come back too."""

    def act():
        with transaction.atomic():
            issue_bill(bill=bill, by=None, now=at(4, 1))
            transaction.set_rollback(True)

    return act


@pytest.mark.django_db(transaction=True)
def test_two_desks_issuing_at_once_leave_no_gap_and_give_no_number_twice(tmp_path):
    made = drafts()
    name = on_disk(tmp_path)
    acts = [lambda bill=bill: issue_bill(bill=bill, by=None, now=at(4, 1)) for bill in made for _ in range(2)]
    found = at_once([*acts, broken_off(made[0])], name)
    refused = [one for one in found if isinstance(one, Refused)]
    assert [one for one in found if isinstance(one, Exception) and not isinstance(one, Refused)] == []
    (numbers,) = at_once([lambda: sorted(Bill.objects.issued().values_list("sequence", flat=True))], name)
    assert numbers == list(range(1, JOBS + 1))
    assert len(refused) >= JOBS and {one.code for one in refused} == {"issued-already"}
