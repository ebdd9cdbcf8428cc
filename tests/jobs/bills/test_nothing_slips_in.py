"""Nothing is added to an issued bill, and two desks on one job see what each other did."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from inventory.models import YardSettings
from jobs.errors import Refused
from jobs.models import Bill, BillLine, BillTax, HireTerms, NumberSeries, bill_guard
from jobs.services.billing import credit_bill, draft_bill, issue_bill
from tests.factories import NOON
from tests.jobs.bills.test_two_desks import at_once, on_disk
from tests.jobs.invoice.bills import a_job, issue, our_details


def refused_by_the_database(act) -> bool:
    try:
        with transaction.atomic():
            act()
    except IntegrityError as fault:
        return bill_guard.REFUSAL in str(fault)
    return False


@pytest.fixture
def bill(db):
    our_details()
    return issue(a_job(), {"net": "10.00"})


@pytest.fixture
def draft(bill):
    return issue(a_job(), {"net": "5.00"}, draft=True)


def test_no_line_and_no_tax_is_put_on_an_issued_bill(bill):
    assert refused_by_the_database(lambda: BillLine.objects.create(bill=bill, position=9, key="k", kind="hire", net=1))
    assert refused_by_the_database(lambda: BillTax.objects.create(bill=bill, rate=1, category="S", base=1, amount=1))


def test_no_line_is_moved_onto_it_from_a_draft(bill, draft):
    assert refused_by_the_database(lambda: draft.lines.update(bill=bill, position=9))
    row = draft.lines.get()
    row.bill, row.position = bill, 9
    assert refused_by_the_database(row.save)


def test_a_draft_takes_lines_and_gives_them_up(draft):
    BillLine.objects.create(bill=draft, position=9, key="k", kind="hire", net=1)
    draft.lines.update(net=2)
    draft.delete()
    assert not BillLine.objects.filter(bill_id=draft.pk).exists()


def test_every_guard_stands(db):
    assert bill_guard.missing() == []
    bill_guard.remove()
    wanted = 10 if connection.vendor == "sqlite" else 5
    assert len(bill_guard.missing()) == wanted
    bill_guard.install()
    assert bill_guard.missing() == []


def test_a_job_billed_in_one_currency_is_not_billed_on_in_another(bill):
    job = bill.job
    job.hire_charges.create(kind="sale", description="Screws", on="2027-03-02", unit_amount=5, recorded_at=NOON)
    HireTerms.objects.create(name="terms", document={"rates": [{"day": "1.00"}]}, recorded_at=NOON)
    YardSettings.objects.update_or_create(pk=1, defaults={"currency": "JPY"})
    with pytest.raises(Refused) as refused:
        draft_bill(job=job, until=bill.period_until.replace(month=4), by=None, now=NOON)
    assert refused.value.code == "currency-changed"


@pytest.mark.django_db(transaction=True)
def test_of_two_desks_one_issuing_and_one_giving_back_the_second_is_refused(tmp_path):
    # A bill must not go out on top of one that is given back at the same moment.
    our_details()
    job = a_job()
    first = issue(job, {"net": "10.00"}, number="B-00001")
    NumberSeries.objects.create(series="B-", next=2)
    draft = issue(job, {"net": "5.00"}, draft=True, after=first)
    Bill.objects.filter(pk=draft.pk).update(period_until=first.period_until + timedelta(days=30))
    acts = [
        lambda: issue_bill(bill=draft, by=None, now=NOON),
        lambda: credit_bill(bill=first, reason="Wrong.", by=None, now=NOON),
    ]
    found = at_once(acts, on_disk(tmp_path))
    assert sorted(type(one).__name__ for one in found) == ["Bill", "Refused"], found
    assert {one.code for one in found if isinstance(one, Refused)} <= {"gone", "overtaken", "not-last"}
