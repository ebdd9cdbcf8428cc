"""Loss, sales, damage, cleaning and delivery, each worked by hand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from jobs.errors import BadRequest
from jobs.hire.damage import damaged_on
from jobs.hire.stays import Charge
from jobs.hire.terms import Damage, Delivery, Grade, Loss, Price, Tax, Terms
from tests.jobs.hire.build import at, bill, day, net, rate, stay

A_DAY = (rate(day="0.30"),)
WORTH = (Price(Decimal(120)),)


def lines(*stays, **more):
    return [(one.line, str(one.net)) for one in bill(*stays, **more).lines]


def test_lost_gear_is_charged_at_its_replacement_value_or_a_share():
    # Two pieces out 2 March, lost 12 March: 10 days at 0.30 are 6.00, and 2 x 120.00; at three quarters 180.00.
    # Missing at full replacement cost: a UK hirer's published terms; new if under 12 months old: HAE
    # conditions as an insurer sums them up.
    gone = stay(day(3, 2), day(3, 12), count=2, end="lost")
    assert lines(gone, terms=Terms(rates=A_DAY, replacement=WORTH)) == [("hire:S1", "6.00"), ("loss:S1", "240.00")]
    share = Terms(rates=A_DAY, replacement=WORTH, loss=Loss(share=Fraction(3, 4)))
    assert lines(gone, terms=share)[1] == ("loss:S1", "180.00")


def test_a_stays_own_replacement_value_goes_first():
    gone = stay(day(3, 2), day(3, 12), end="lost", replacement=Decimal("95.50"))
    assert lines(gone, terms=Terms(rates=A_DAY, replacement=WORTH))[1] == ("loss:S1", "95.50")


def test_hire_of_lost_gear_can_run_on_at_a_share_until_it_is_settled():
    # Lost 12 March, settled 24 March: 10 days at 0.30, then 12 at two thirds of it: 3.00 + 2.40 = 5.40.
    # Two thirds until settled: CPA clause 13(b) as CPA Bulletin Aug 2024 has it.
    gone = stay(day(3, 2), day(3, 12), end="lost", settled=day(3, 24))
    terms = Terms(rates=A_DAY, replacement=WORTH, loss=Loss(until_settled=Fraction(2, 3)))
    assert lines(gone, terms=terms)[0] == ("hire:S1", "5.40")
    # Not settled: to the period's end, 10 days and 20 at two thirds: 3.00 + 4.00.
    assert lines(replace(gone, settled=None), terms=terms, until=day(4, 1))[0] == ("hire:S1", "7.00")


def test_a_loss_without_a_value_is_shown_at_nothing_with_a_warning():
    priced = bill(stay(day(3, 2), day(3, 12), end="lost"), terms=Terms(rates=A_DAY))
    assert [str(one.net) for one in priced.lines] == ["3.00", "0.00"]
    assert priced.warnings == ("The terms give no value for EF-3000: its loss is charged at nothing.",)


def test_goods_used_up_are_sold():
    # 200 inserts that stay in the concrete at 1.85: 370.00, and no hire where there is no rate for them.
    inserts = stay(day(3, 2), day(3, 2), count=200, type="IN-M16", end="sold")
    terms = Terms(rates=(rate(type="EF-3000", day="0.30"),), sales=(Price(Decimal("1.85"), type="IN-M16"),))
    assert lines(inserts, terms=terms) == [("sale:S1", "370.00")]
    assert bill(inserts, terms=terms).warnings == ()


def test_charges_carry_their_price_or_take_it_from_the_terms():
    terms = Terms(
        delivery=Delivery(out=Decimal(150), back=Decimal(130)),
        cleaning=(Price(Decimal("2.50")), Price(Decimal("4.00"), kind="edge_form")),
        damage=Damage(grades=(Grade("bent", share=Fraction(1, 4)), Grade("scratched", amount=Decimal(5)))),
        replacement=WORTH,
    )
    charges = (
        Charge("delivery"),
        Charge("delivery", leg="back"),
        Charge("cleaning", quantity=Decimal(12), gear="edge_form"),
        Charge("damage", quantity=Decimal(2), grade="bent", type="EF-3000"),
        Charge("damage", grade="scratched", type="EF-3000"),
        Charge("crane", description="Crane hour", quantity=Decimal("1.5"), unit_amount=Decimal("90.10")),
    )
    # 150; 130; 12 x 4.00; 2 x 120.00 / 4; 5.00; 1.5 x 90.10 = 135.15.
    assert lines(charges=charges, terms=terms) == [
        ("charge:delivery:1", "150.00"),
        ("charge:delivery:2", "130.00"),
        ("charge:cleaning:1", "48.00"),
        ("charge:damage:1", "60.00"),
        ("charge:damage:2", "5.00"),
        ("charge:crane:1", "135.15"),
    ]


def test_a_charge_that_nothing_prices_is_refused_by_name():
    with pytest.raises(BadRequest) as refused:
        bill(charges=(Charge("damage", grade="bent", type="EF-3000"),), terms=Terms())
    assert refused.value.field == "charges[0].unit_amount"
    assert "no price for damage bent of EF-3000" in refused.value.sentence


def test_a_dated_charge_is_on_the_bill_of_its_period_and_an_undated_one_at_once():
    dated = Charge("delivery", unit_amount=Decimal(10), date=day(4, 2))
    undated = Charge("cleaning", unit_amount=Decimal(3))
    assert lines(charges=(dated, undated), terms=Terms(), until=day(4, 1)) == [("charge:cleaning:1", "3.00")]
    assert len(lines(charges=(dated, undated), terms=Terms(), until=day(5, 1))) == 2


def test_compensation_for_loss_can_be_outside_tax():
    # Hire is taxed, compensation for loss often not (from memory: ask an accountant), so tax is by kind of line.
    taxes = (Tax(Decimal(0), "O", of=("loss",)), Tax(Decimal(10)))
    gone = stay(day(3, 2), day(3, 12), end="lost")
    priced = bill(gone, terms=Terms(rates=A_DAY, replacement=WORTH, tax=taxes))
    assert [(one.category, str(one.base), str(one.amount)) for one in priced.tax] == [
        ("O", "120.00", "0.00"),
        ("S", "3.00", "0.30"),
    ]


def test_damage_belongs_to_the_last_job_if_found_in_time_and_before_the_next_send():
    # Back 10 March; fourteen days run to the 24th. Common practice, no source.
    first = stay(day(3, 2), day(3, 10))
    terms = Terms(damage=Damage(within_days=14))
    assert damaged_on(day(3, 10), [first], terms) == first
    assert damaged_on(day(3, 24), [first], terms) == first
    assert damaged_on(day(3, 25), [first], terms) is None
    assert damaged_on(day(3, 1), [first], terms) is None
    second = stay(at(3, 20), id="S2")
    assert damaged_on(day(3, 19), [first, second], terms) == first
    assert damaged_on(day(3, 21), [first, second], terms) == second


def test_currency_decides_the_places_a_line_is_rounded_to():
    # 5 days at 0.3333: 1.6665. Yen have no smaller unit, dollars two places, dinars of Kuwait three.
    terms = Terms(rates=(rate(day="0.3333"),))
    week = stay(day(3, 2), day(3, 7))
    assert [net(week, terms=terms, currency=one) for one in ("JPY", "AUD", "KWD")] == ["2", "1.67", "1.667"]
