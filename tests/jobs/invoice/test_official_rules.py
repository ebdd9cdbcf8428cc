"""Our electronic invoices before the standard's own judges: UBL 2.1's schema and EN 16931's business rules.

What these cannot show is said where it matters: the rules let a tax be off by up to 1.00, so exact tax is tested in
`test_rules.py`; and no rules of a country or of a network (national extensions, exchange networks) are checked.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.hire.invoice import codes
from jobs.hire.invoice.checks import check
from jobs.hire.invoice.document import Extra, Preceding
from jobs.hire.invoice.making import make
from jobs.hire.invoice.ubl import write
from tests.jobs.invoice.build import THEM, US, billed, document, line, with_totals
from tests.jobs.invoice.official import broken_rules, code_list, schema_faults


def accepted(one) -> None:
    xml = write(one)
    assert schema_faults(xml) == []
    assert broken_rules(xml) == []
    assert check(one) == []


def everything(**more):
    return document(
        line("196.00", type="E150-30", quantity=Decimal(40), days=14, per="day", price="0.35", why="40 out 2 March"),
        line("12.50", rate="6", name="Cleaning"),
        line("-3.10", rate="6", why="Back earlier than was billed"),
        line("75.00", rate="0", category="E", name="Delivery"),
        note="Thank you",
        buyer_reference="PO 17",
        contract="J-4",
        corrects=(Preceding("B-6", date(2026, 3, 1)),),
        **more,
    )


@pytest.mark.parametrize("credit", [False, True])
def test_an_invoice_and_a_credit_note_with_everything_on_them_are_accepted(credit):
    accepted(everything(credit=credit))


@pytest.mark.parametrize("credit", [False, True])
@pytest.mark.parametrize("category", ["S", "Z", "E", "AE", "K", "G", "O", "L", "M"])
def test_every_category_of_tax_is_accepted_on_a_bill_and_on_what_gives_it_back(category, credit):
    rate, net = "7" if category in ("S", "L", "M") else "0", "-100.00" if credit else "100.00"
    accepted(document(line(net, rate=rate, category=category), credit=credit))


@pytest.mark.parametrize("currency", ["EUR", "AUD", "JPY"])
def test_a_currency_with_no_cents_is_accepted_as_one_with_cents_is(currency):
    # ISO 4217: the yen has no smaller unit. 105 at 10 per cent is 10.5, so 11; nothing is written after a point.
    net = "105" if currency == "JPY" else "105.00"
    one = document(line(net, rate="10"), currency=currency)
    assert (str(one.totals.tax), ".00" in write(one).decode()) == (
        ("11", False) if currency == "JPY" else ("10.50", True)
    )
    accepted(one)


def test_a_currency_with_three_decimals_cannot_be_an_electronic_invoice_and_both_say_so():
    # ISO 4217: the dinar of Kuwait has three; the standard carries two (BR-DEC-*, UBL-DT-01).
    one = document(line("1.234", rate="5"), currency="KWD")
    ours, theirs = {found.rule for found in check(one)}, set(broken_rules(write(one)))
    assert {"BR-DEC-09", "BR-DEC-12", "BR-DEC-14", "BR-DEC-18", "BR-DEC-19", "BR-DEC-23"} <= ours & theirs
    assert "UBL-DT-01" in theirs


def test_allowances_and_charges_of_the_whole_document_are_accepted():
    # ubl-tc434-example2: an allowance of 100 and a charge of 100 leave the total as it was.
    plain = document(line("1460.50", rate="25"))
    extras = (
        Extra(Decimal(100), "Loyalty", False, "S", Decimal(25)),
        Extra(Decimal(100), "Freight", True, "S", Decimal(25)),
    )
    one = with_totals(replace(plain, extras=extras), allowances="100.00", charges="100.00")
    assert str(one.totals.tax) == "365.13"
    accepted(one)


def test_an_amount_rounded_to_what_coins_there_are_is_accepted():
    # BR-CO-16: what is due is the total with tax, less what was paid, and the rounding: 100.03 - 0.03 = 100.00.
    one = with_totals(document(line("100.03", rate="0", category="Z")), rounding="-0.03", due="100.00")
    assert "PayableRoundingAmount" in write(one).decode()
    accepted(one)


def test_what_was_paid_before_is_taken_off_what_is_due():
    # ubl-tc434-example5: 4675.00 in all, 2337.50 paid before, 2337.50 due.
    one = document(line("4675.00", rate="0", category="Z"), paid=Decimal("2337.50"))
    assert str(one.totals.due) == "2337.50"
    accepted(one)


def test_a_credit_note_with_allowances_charges_and_several_rates_is_accepted():
    plain = document(line("-1460.50", rate="25"), line("-1.00", rate="15"), line("25.00", rate="0", category="Z"))
    extras = (
        Extra(Decimal(100), "Loyalty", False, "S", Decimal(25)),
        Extra(Decimal(100), "Freight", True, "S", Decimal(25)),
    )
    one = with_totals(replace(plain, extras=extras), allowances="100.00", charges="100.00")
    assert (one.kind, str(one.totals.net), str(one.totals.tax)) == ("credit_note", "1436.50", "365.28")
    accepted(one)


def test_a_bill_of_adjustments_alone_gives_back_on_one_rate_and_asks_on_another():
    # 20 per cent of -50.00 and 6 per cent of 80.00: net 30.00, tax -10.00 + 4.80; the negative line is a negative
    # quantity, since BR-27 has no negative price.
    one = document(line("-50.00"), line("80.00", rate="6"))
    assert [str(part.amount) for part in one.breakdown] == ["4.80", "-10.00"]
    assert (one.lines[0].quantity, one.lines[0].price) == (-1, Decimal("50.00"))
    accepted(one)


def test_a_line_may_carry_its_own_discount():
    one = document(line("90.00"))
    discounted = replace(one.lines[0], price=Decimal(100), extras=(Extra(Decimal(10), "Discount"),))
    accepted(replace(one, lines=(discounted,)))


def test_text_that_xml_cannot_carry_is_left_out_and_the_rest_kept():
    one = document(line("1.00", why="bent \x0b & <twisted> \ud800 \U0001f600"))
    assert "bent   &amp; &lt;twisted&gt;   \U0001f600" in write(one).decode()
    accepted(one)


def test_a_sellers_tax_number_without_a_countrys_letters_is_accepted_where_it_needs_none():
    us = replace(US, vat_id="", tax_number="12345678901")
    accepted(document(line("100.00"), seller=us))
    accepted(document(line("100.00", rate="0", category="O"), seller=us))
    one = document(line("100.00", rate="0", category="G"), seller=us)
    assert "BR-G-02" in {found.rule for found in check(one)} & set(broken_rules(write(one)))


# Both judges say the same


BROKEN = {
    "BR-02": lambda one: replace(one, number=""),
    "BR-03": lambda one: replace(one, issued=None),
    "BR-06": lambda one: replace(one, seller=replace(US, name="")),
    "BR-07": lambda one: replace(one, buyer=replace(THEM, name="")),
    "BR-09": lambda one: replace(one, seller=replace(US, address=replace(US.address, country=""))),
    "BR-11": lambda one: replace(one, buyer=replace(THEM, address=replace(THEM.address, country=""))),
    "BR-16": lambda one: replace(one, lines=()),
    "BR-27": lambda one: replace(one, lines=(replace(one.lines[0], quantity=Decimal(-1), price=Decimal("-100.00")),)),
    "BR-29": lambda one: replace(one, last=date(2026, 2, 1)),
    "BR-CL-14": lambda one: replace(one, seller=replace(US, address=replace(US.address, country="QQ"))),
    "BR-CL-23": lambda one: replace(one, lines=(replace(one.lines[0], unit="piece"),)),
    "BR-CL-25": lambda one: replace(one, seller=replace(US, electronic_scheme="XX")),
    "BR-CO-09": lambda one: replace(one, seller=replace(US, vat_id="1234567")),
    "BR-CO-10": lambda one: with_totals(one, lines="100.01"),
    "BR-CO-13": lambda one: with_totals(one, net="99.99"),
    "BR-CO-14": lambda one: with_totals(one, tax="20.01"),
    "BR-CO-15": lambda one: with_totals(one, gross="119.99"),
    "BR-CO-16": lambda one: with_totals(one, due="1.00"),
    "BR-CO-17": lambda one: replace(one, breakdown=(replace(one.breakdown[0], amount=Decimal("21.10")),)),
    "BR-CO-18": lambda one: replace(one, breakdown=()),
    "BR-CO-26": lambda one: replace(one, seller=replace(US, vat_id="", registration="")),
    "BR-DEC-23": lambda one: replace(one, lines=(replace(one.lines[0], net=Decimal("100.001")),)),
    "BR-S-01": lambda one: replace(one, breakdown=(replace(one.breakdown[0], category="L"),)),
    "BR-S-02": lambda one: replace(one, seller=replace(US, vat_id="")),
    "BR-S-05": lambda one: replace(one, lines=(replace(one.lines[0], rate=Decimal(0)),)),
    "BR-S-08": lambda one: replace(one, breakdown=(replace(one.breakdown[0], base=Decimal("98.00")),)),
    "BR-S-10": lambda one: replace(one, breakdown=(replace(one.breakdown[0], reason="None"),)),
}


@pytest.mark.parametrize("rule", BROKEN)
def test_what_breaks_a_rule_is_found_by_both_judges_under_the_same_name(rule):
    one = BROKEN[rule](document(line("100.00")))
    assert rule in {found.rule for found in check(one)}
    assert rule in broken_rules(write(one))


@pytest.mark.parametrize(
    ("category", "rule", "change"),
    [
        ("Z", "BR-Z-05", lambda one: replace(one, lines=(replace(one.lines[0], rate=Decimal(5)),))),
        ("E", "BR-E-10", lambda one: replace(one, breakdown=(replace(one.breakdown[0], reason=""),))),
        ("AE", "BR-AE-02", lambda one: replace(one, buyer=replace(THEM, vat_id=""))),
        ("K", "BR-IC-02", lambda one: replace(one, buyer=replace(THEM, vat_id=""))),
        ("K", "BR-IC-11", lambda one: replace(one, first=None, last=None)),
        ("K", "BR-IC-12", lambda one: replace(one, deliver_to=None)),
        ("G", "BR-G-02", lambda one: replace(one, seller=replace(US, vat_id=""))),
        ("O", "BR-O-02", lambda one: replace(one, seller=US)),
        ("O", "BR-O-09", lambda one: replace(one, breakdown=(replace(one.breakdown[0], amount=Decimal("1.00")),))),
    ],
)
def test_what_is_particular_to_a_category_is_found_by_both(category, rule, change):
    one = change(document(line("100.00", rate="0", category=category)))
    assert rule in {found.rule for found in check(one)}
    assert rule in broken_rules(write(one))


def test_what_is_not_subject_to_tax_stands_alone():
    one = document(line("100.00"), line("50.00", rate="0", category="O"))
    assert {"BR-O-11", "BR-O-12"} <= {found.rule for found in check(one)} & set(broken_rules(write(one)))


def test_the_code_lists_are_the_published_ones():
    assert code_list("BR-CL-14") == codes.COUNTRIES
    assert code_list("BR-CL-25") == codes.SCHEMES
    assert code_list("BR-CL-23") >= codes.UNITS
    assert code_list("BR-CL-18") >= set(codes.CATEGORIES)


# Any bill at all


money = st.integers(-10_000_000, 10_000_000).map(lambda n: Decimal(n).scaleb(-2))
taxes = st.sampled_from([("21", "S"), ("6", "S"), ("7.7", "S"), ("0", "Z"), ("0", "E"), ("0", "AE"), ("3", "L")])
lines = st.builds(lambda net, tax: line(str(net), rate=tax[0], category=tax[1]), money, taxes)


@settings(max_examples=25, deadline=None)
@given(st.lists(lines, min_size=1, max_size=6))
def test_any_lines_make_a_document_that_both_judges_accept(several):
    accepted(make(billed(*several)))
