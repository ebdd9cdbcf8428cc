"""The business rules on the standard's own example files, and where ours are stricter than the published ones.

Values from the official validation artefacts' UBL example files (ConnectingEurope/eInvoicing-EN16931, EUPL 1.2).
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from jobs.hire.invoice.checks import check, worth
from jobs.hire.invoice.document import DocumentLine, Extra, Preceding, Totals
from jobs.hire.invoice.making import counted
from jobs.hire.invoice.ubl import write
from jobs.hire.tax import TaxGroup
from tests.jobs.invoice.build import document, line
from tests.jobs.invoice.official import broken_rules


def rules(one) -> set[str]:
    return {found.rule for found in check(one)}


def money(totals: Totals) -> list[str]:
    return [str(one) for one in (totals.net, totals.tax, totals.gross, totals.due)]


@pytest.mark.parametrize(
    ("lines", "paid", "totals"),
    [
        # ubl-tc434-example1: 183.23 at 6 per cent and 46.37 at 21
        ([("183.23", "6"), ("46.37", "21")], "0", ["229.60", "20.73", "250.33", "250.33"]),
        # ubl-tc434-example2: 1460.50 at 25 (365.125 is 365.13, half up), 1.00 at 15, -25.00 at 0; 1000 paid before
        ([("1460.50", "25"), ("1.00", "15"), ("-25.00", "0")], "1000.00", ["1436.50", "365.28", "1801.78", "801.78"]),
        # ubl-tc434-example8: 21 per cent of 908.91
        ([("908.91", "21")], "0", ["908.91", "190.87", "1099.78", "1099.78"]),
        # sample-discount-price
        ([("12.12", "25")], "0", ["12.12", "3.03", "15.15", "15.15"]),
    ],
)
def test_the_examples_of_the_standard_come_out_as_published(lines, paid, totals):
    one = document(*(line(net, rate=rate) for net, rate in lines), paid=Decimal(paid))
    assert money(one.totals) == totals
    assert check(one) == []


@pytest.mark.parametrize(
    ("quantity", "price", "per", "net"),
    # ubl-tc434-example8: a price may be for a dozen, and have five decimals. sample-discount-price: 100 at 0.1212.
    [
        ("132", "15.24", "12", "167.64"),
        ("1", "441", "12", "36.75"),
        ("16000", "0.00101", "1", "16.16"),
        ("100", "0.1212", "1", "12.12"),
    ],
)
def test_a_price_may_be_for_several_and_have_many_decimals(quantity, price, per, net):
    one = DocumentLine(
        "1", "Goods", Decimal(net), "S", Decimal(21), Decimal(quantity), "C62", Decimal(price), Decimal(per)
    )
    assert str(worth(one, 2)) == net


def test_a_tax_that_is_half_a_euro_out_passes_the_published_rules_but_not_ours():
    # The published BR-CO-17 lets a tax be off by up to 1.00.
    one = document(line("100.00"))
    totals = Totals(one.totals.lines, one.totals.net, Decimal("20.50"), Decimal("120.50"), Decimal("120.50"))
    wrong = replace(one, breakdown=(replace(one.breakdown[0], amount=Decimal("20.50")),), totals=totals)
    assert broken_rules(write(wrong)) == []
    assert rules(wrong) == {"BR-CO-17"}


def test_a_line_that_does_not_multiply_out_is_found():
    one = document(line("100.00"))
    wrong = replace(one, lines=(replace(one.lines[0], price=Decimal("100.01")),))
    assert rules(wrong) == {"BT-131"}


def test_every_fault_is_found_at_once():
    one = document(line("100.00"))
    wrong = replace(
        one, number=" ", extras=(Extra(Decimal("1.005"), "", True, "S", Decimal(20)),), preceding=(Preceding(""),)
    )
    assert {"BR-02", "BR-38", "BR-55", "BR-DEC-05", "BR-CO-12", "BR-S-08"} <= rules(wrong)


def test_something_to_pay_says_by_when():
    assert rules(document(line("1.00"), due=None, terms="")) == {"BR-CO-25"}
    assert rules(document(line("-1.00"), due=None, terms="")) == set()


# Quantities


@pytest.mark.parametrize(
    ("given", "wanted"),
    [
        # 40 pieces, 14 days, 0.35 a day: 196.00
        (
            {"net": "196.00", "quantity": Decimal(40), "days": 14, "price": "0.35", "per": "day"},
            ["560", "DAY", "0.35", "1"],
        ),
        # 40 pieces, 2 to 18 March, 2.10 a week: 17 days of a 7-day week 204.00; 13 days of a 5-day week 218.40
        (
            {"net": "204.00", "quantity": Decimal(40), "days": 17, "price": "2.10", "per": "week"},
            ["680", "DAY", "2.10", "7"],
        ),
        (
            {"net": "218.40", "quantity": Decimal(40), "days": 13, "price": "2.10", "per": "week"},
            ["520", "DAY", "2.10", "5"],
        ),
        ({"net": "150.00", "quantity": Decimal(2), "price": "75", "per": "each"}, ["2", "C62", "75", "1"]),
        (
            {"net": "-30.00", "quantity": Decimal(-2), "price": "15", "per": "each", "type": "FB"},
            ["-2", "H87", "15", "1"],
        ),
        (
            {"net": "24.00", "quantity": Decimal(12), "uses": 12, "price": "2", "per": "use", "type": "FB"},
            ["12", "H87", "2", "1"],
        ),
        # the rest of a hire after what was billed before
        (
            {"net": "9.90", "quantity": Decimal(40), "days": 14, "price": "0.35", "per": "day"},
            ["1", "C62", "9.90", "1"],
        ),
        ({"net": "-9.90"}, ["-1", "C62", "9.90", "1"]),
    ],
)
def test_a_line_is_written_as_what_it_came_to(given, wanted):
    assert [str(one) for one in counted(line(given.pop("net"), **given), 2)] == wanted


# Credit notes


def test_a_credit_note_mirrors_its_bill():
    several = [line("196.00"), line("-12.50", rate="6"), line("33.33", rate="0")]
    back = [replace(one, net=-one.net) for one in several]
    there, credit = document(*several), document(*back, credit=True, corrects=(Preceding("B-7"),))
    assert (there.kind, credit.kind, credit.type_code) == ("invoice", "credit_note", "381")
    assert money(there.totals) == money(credit.totals)
    assert [one.net for one in there.lines] == [one.net for one in credit.lines]
    assert there.breakdown == credit.breakdown
    assert (credit.due, credit.account, credit.terms) == (None, None, "")


def test_a_bill_that_comes_to_less_than_nothing_is_a_credit_note_and_nothing_at_all_is_not():
    assert document(line("10.00"), line("-30.00")).kind == "credit_note"
    assert document(line("10.00"), line("-10.00")).kind == "invoice"


def test_the_tax_of_the_bill_is_the_tax_of_the_invoice_even_where_it_is_wrong():
    frozen = (TaxGroup("S", Decimal(20), Decimal("100.00"), Decimal("20.01")),)
    one = document(line("100.00"), taxes=frozen)
    assert str(one.totals.tax) == "20.01"
    assert rules(one) == {"BR-CO-17"}


def test_what_is_not_subject_to_tax_names_no_tax_number_and_still_says_who_we_are():
    one = document(line("100.00", rate="0", category="O"))
    assert (one.seller.vat_id, one.buyer.vat_id, one.seller.registration) == ("", "", "700001")
