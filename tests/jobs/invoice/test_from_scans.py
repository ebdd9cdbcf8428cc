"""From scans to the electronic invoice: a bill drafted, adjusted and given back by the desk's own services."""

from __future__ import annotations

import pytest

from inventory.lifecycle.kinds import Kind
from jobs.hire.invoice.checks import check
from jobs.hire.invoice.ubl import write
from jobs.models import Bill, Seller
from jobs.selectors.bill_sheet import BillSheet
from jobs.selectors.invoices import document_of
from jobs.services.billing import credit_bill
from jobs.views.bill_paper import as_pdf
from tests.jobs.bills.build import at, day, make_desk
from tests.jobs.invoice.official import broken_rules, schema_faults
from tests.jobs.invoice.test_bill_papers import words

TERMS = {
    "rates": [{"week": "2.10", "use": "0.35"}],
    "delivery": {"out": "75.00"},
    "damage": {"grades": [{"grade": "watch", "amount": "12.00"}]},
    "replacement": [{"amount": "95.00"}],
    "tax": [{"rate": "10", "of": ["hire", "use", "delivery"]}, {"rate": "0", "category": "E"}],
}


@pytest.fixture
def three(db):
    """March; April, in which March is adjusted by a late return; and April given back."""
    desk = make_desk()
    Seller.objects.update(tax_id="12345678901")
    desk.terms(TERMS)
    desk.out(desk.pieces[:3], at(3, 2))
    desk.tell(Kind.LOST, desk.pieces[2], at(3, 20))
    march = desk.bill(day(4, 1), at(4, 1))
    desk.back(desk.pieces[0], at(3, 12), at(4, 8))
    desk.tell(Kind.FOUND_DAMAGED, desk.pieces[0], at(3, 14), at(4, 8), data={"grade": "watch", "reason": "bent"})
    april = desk.bill(day(5, 1), at(5, 1))
    return [march, april, credit_bill(bill=april, reason="Sent to the wrong office.", by=None, now=at(5, 2))]


def test_each_is_accepted_by_the_standards_own_judges(three):
    for bill in three:
        xml = write(document_of(bill))
        assert check(document_of(bill)) == []
        assert schema_faults(xml) == []
        assert broken_rules(xml) == []


def test_an_adjustment_refers_to_the_bill_it_adjusts_and_a_credit_note_to_the_one_it_gives_back(three):
    march, april, note = (document_of(one) for one in three)
    assert [[one.number for one in it.preceding] for it in (march, april, note)] == [
        [],
        [march.number],
        [april.number],
    ]


def test_what_came_back_is_read_from_what_was_frozen(three):
    march, april, note = three
    found = {(one.ended, one.back) for one in BillSheet(march).returned}
    assert found == {("still out", None), ("lost", day(3, 20))}
    assert ("returned", day(3, 12)) in {(one.ended, one.back) for one in BillSheet(april).returned}
    assert [vars(one) for one in BillSheet(note).returned] == [vars(one) for one in BillSheet(april).returned]


def test_the_paper_gives_every_reason(three):
    for bill in three:
        said = words(as_pdf(BillSheet(bill)))
        for line in Bill.objects.get(pk=bill.pk).lines.all():
            assert " ".join(line.why.split()[:6]) in said
