"""Bills for all customers in one press, drafted and issued by a real worker, a process of its own. On both engines."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from django.conf import settings
from django.db import connection
from django.urls import reverse

from inventory.models import ReviewItem
from jobs.models import Bill, BillRun
from jobs.services.bill_runs import ask_issuing, ask_run, do_run
from jobs.services.billing import draft_bill
from jobs.services.jobs import create_job
from tests.factories import TagFactory
from tests.jobs.bills.build import A_DAY, at, day, make_desk
from tests.jobs.bills.test_two_desks import at_once, on_disk

JOBS = 5


def an_address(on_disk_name: str | None) -> str:
    """The database of this test as a process of its own finds it."""
    if on_disk_name is not None:
        return f"sqlite:///{on_disk_name}"
    base, _, options = os.environ["POURBACK_DATABASE_URL"].partition("?")
    return f"{base.rsplit('/', 1)[0]}/{connection.settings_dict['NAME']}" + (f"?{options}" if options else "")


def a_worker(address: str) -> None:
    """Works until nothing waits."""
    command = [sys.executable, "manage.py", "work", "--batch", "--interval", "0.1"]
    environment = os.environ | {"POURBACK_DATABASE_URL": address}
    done = subprocess.run(command, cwd=settings.BASE_DIR, env=environment, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout + done.stderr


def jobs_that_owe(count: int):
    desk = make_desk()
    desk.terms(A_DAY)
    for number in range(count):
        job = create_job(
            code=f"K{number}", name="Job", customer=desk.job.customer, yard=desk.yard.yard, starts_on=day(3, 1)
        )
        job.stage = job.Stage.RUNNING
        job.save()
        job.hire_charges.create(
            kind="hire", description="Fixed", on=day(3, 2), quantity=1, unit_amount=5, recorded_at=at(3, 2)
        )


@pytest.mark.django_db(transaction=True)
def test_one_press_drafts_the_bills_of_all_customers_and_one_issues_them(tmp_path, client_as):
    jobs_that_owe(JOBS)
    desk = client_as("hire desk")
    name = on_disk(tmp_path)

    def press():
        desk.post(reverse("bills-draft"), {"until": "2026-04-01"})
        run = BillRun.objects.get()
        part = desk.get(reverse("bill-run", args=[run.pk]), headers={"hx-request": "true"})
        return run.state, part.content.decode()

    def look():
        run = BillRun.objects.get()
        part = desk.get(reverse("bill-run", args=[run.pk]), headers={"hx-request": "true"})
        return run, part.headers.get("HX-Refresh"), list(Bill.objects.drafts().values_list("net", flat=True))

    ((state, waiting),) = at_once([press], name)
    assert state == "waiting" and "for a worker" in waiting
    a_worker(an_address(name))
    ((run, refresh, drafts),) = at_once([look], name)
    assert (run.state, run.progress, run.drafted, run.left_out, refresh) == ("answered", 100, JOBS, [], "true")
    assert drafts == [5] * JOBS

    def issue():
        return desk.post(reverse("bills-issue"), {"looked": "on"}).status_code

    def issued():
        numbers = Bill.objects.issued().order_by("sequence").values_list("number", "job__code")
        return BillRun.objects.first(), list(numbers)

    at_once([issue], name)
    a_worker(an_address(name))
    ((run, bills),) = at_once([issued], name)
    assert (run.state, run.work, run.issued, run.left_out) == ("answered", "issuing", JOBS, [])
    assert bills == [(f"B-{number:05}", f"K{number - 1}") for number in range(1, JOBS + 1)]


def test_drafts_that_something_holds_up_are_named_and_leave_no_gap_in_the_numbers(db, client_as):
    jobs_that_owe(3)
    do_run(run=ask_run(until=day(4, 1), by=None))
    held, later = Bill.objects.get(job__code="K1"), Bill.objects.get(job__code="K2")
    piece = TagFactory(piece__place=held.job.site).piece
    ReviewItem.objects.create(code="astray", piece=piece, opened_at=at(3, 4))
    run = ask_issuing(by=None)
    draft_bill(job=later.job, until=day(4, 2), by=None)
    do_run(run=run)
    assert list(Bill.objects.issued().values_list("number", "job__code")) == [("B-00001", "K0")]
    assert [code for code, _ in run.left_out] == ["K1"] and "1 open review" in run.left_out[0][1]
    page = client_as("hire desk").get(reverse("bills")).content.decode()
    assert "1 bill went out; these did not" in page and "1 open review" in page


def test_a_job_that_breaks_keeps_no_other_from_its_bill(db, monkeypatch):
    from jobs.services import bill_runs

    jobs_that_owe(3)
    broken = bill_runs.draft_bill

    def breaks(*, job, **more):
        if job.code == "K1":
            raise ZeroDivisionError
        return broken(job=job, **more)

    monkeypatch.setattr(bill_runs, "draft_bill", breaks)
    run = bill_runs.ask_run(until=day(4, 1), by=None)
    bill_runs.do_run(run=run)
    assert (run.state, run.drafted) == ("answered", 2)
    assert run.left_out == [["K1", bill_runs.BROKE_ON_ONE]]
