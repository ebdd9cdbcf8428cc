"""Line and tax arithmetic against EN 16931's own example files, and ISO 4217's smallest units.

Values from the official validation artefacts' UBL example files (ConnectingEurope/eInvoicing-EN16931, EUPL
1.2): ubl-tc434-example1, 2, 5 and 8, and sample-discount-price. Rules BR-CO-10, 13, 14, 15, 17 and BR-S-08.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.currencies import minor_units
from jobs.errors import BadRequest
from jobs.hire.rounding import rounded
from jobs.hire.stays import Charge
from jobs.hire.tax import tax_groups
from jobs.hire.terms import Tax, Terms
from tests.jobs.hire.build import bill, day, net, rate, stay


def groups(*lines):
    return [
        (str(one.base), str(one.amount))
        for one in tax_groups([(Tax(Decimal(rate)), Decimal(net)) for rate, net in lines], 2)
    ]


@pytest.mark.parametrize(
    ("lines", "wanted"),
    [
        ([("6", "183.23"), ("21", "46.37")], [("183.23", "10.99"), ("46.37", "9.74")]),  # example1
        ([("25", "1460.50")], [("1460.50", "365.13")]),  # example2: exactly half, 365.125
        ([("15", "1.00"), ("0", "-25.00")], [("-25.00", "0.00"), ("1.00", "0.15")]),  # example2
        ([("21", "908.91")], [("908.91", "190.87")]),  # example8
        ([("25", "12.12")], [("12.12", "3.03")]),  # sample-discount-price
    ],
)
def test_tax_by_rate_is_what_the_examples_of_the_standard_have(lines, wanted):
    assert groups(*lines) == wanted


def test_a_whole_bill_adds_up_as_the_first_example_does():
    # Net 229.60, tax 20.73, gross 250.33 (BR-CO-13 to 15).
    charges = tuple(
        Charge("goods", unit_amount=Decimal(amount), tax=Decimal(tax))
        for amount, tax in (("183.23", "6"), ("46.37", "21"))
    )
    priced = bill(charges=charges, terms=Terms())
    assert (str(priced.net), str(priced.gross)) == ("229.60", "250.33")
    assert sum(one.amount for one in priced.tax) == Decimal("20.73")


@pytest.mark.parametrize(
    ("quantity", "price", "charge"),
    # example8: 132 at 15.24 per 12 is 132 x 1.27; 1 x 36.75; 16000 x 0.00101. sample-discount-price: 100 x 0.1212.
    [("132", "1.27", "167.64"), ("1", "36.75", "36.75"), ("16000", "0.00101", "16.16"), ("100", "0.1212", "12.12")],
)
def test_a_price_may_have_more_places_than_the_currency(quantity, price, charge):
    charges = (Charge("goods", quantity=Decimal(quantity), unit_amount=Decimal(price)),)
    assert net(charges=charges, terms=Terms()) == charge


def test_lines_are_rounded_and_then_taxed_together():
    # Three lines of 33.335: 33.34 each and 100.02 together, not 100.01; tax at 20 is 20.00, not 3 x 6.67.
    charges = tuple(Charge("goods", unit_amount=Decimal("33.335"), tax=Decimal(20)) for _ in range(3))
    priced = bill(charges=charges, terms=Terms())
    assert (str(priced.net), str(priced.tax[0].amount)) == ("100.02", "20.00")


def test_what_is_given_back_mirrors_what_was_charged():
    there, back = groups(("25", "1460.50")), groups(("25", "-1460.50"))
    assert back == [("-1460.50", "-365.13")] and there == [("1460.50", "365.13")]


@given(st.decimals(-10_000, 10_000, places=5), st.sampled_from([0, 2, 3, 4]))
def test_rounding_is_decimals_own_half_up(amount, places):
    # decimal's ROUND_HALF_UP rounds halves away from zero.
    assert rounded(amount, places) == amount.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)


def test_a_share_of_a_week_is_exact_until_it_is_rounded():
    # 8.75 a week for 4 days is exactly 5.00; sevenths of 0.0x that a decimal cannot hold do not drift.
    assert net(stay(day(3, 2), day(3, 6)), terms=Terms(rates=(rate(week="8.75"),))) == "5.00"
    assert rounded(Fraction(1, 7) * 7 / 200, 2) == Decimal("0.01")


@pytest.mark.parametrize(
    ("currency", "places"),
    # ISO 4217, list one (from memory): most have two places, these fewer or more.
    [("AUD", 2), ("EUR", 2), ("GBP", 2), ("JPY", 0), ("KRW", 0), ("ISK", 0), ("CLP", 0), ("VND", 0), ("XOF", 0),
     ("BHD", 3), ("JOD", 3), ("KWD", 3), ("OMR", 3), ("TND", 3), ("CLF", 4), ("UYW", 4)],
)  # fmt: skip
def test_smallest_units_are_those_of_iso_4217(currency, places):
    assert minor_units(currency) == places


@pytest.mark.parametrize("code", ["XAU", "AUS", "aud", "", "XXX"])
def test_what_is_no_money_cannot_be_billed(code):
    with pytest.raises(BadRequest) as refused:
        minor_units(code)
    assert refused.value.field == "currency"
