"""Terms hold from their day; new ones never touch the past; a correction replaces wrong ones."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from jobs.hire.adjust import BilledBefore
from jobs.hire.checks import check_terms
from jobs.hire.terms import Damage, Grade, Minimum, Rate, Step, Tax, Terms
from tests.jobs.hire.build import at, bill, day, rate, stay

OLD = Terms(id="old", rates=(rate(day="1.00"),))


def lines(*stays, **more):
    return [(one.line, str(one.net)) for one in bill(*stays, **more).lines]


def test_days_before_new_terms_keep_the_old_rate():
    # 25 March to 4 April: 7 days in March at 1.00, 3 in April at 2.00 (the day back is free).
    # A rate changes only by agreement or by off-hire and re-hire: CPA Bulletin May 2024.
    new = Terms(id="new", holds_from=day(4, 1), rates=(rate(day="2.00"),))
    piece = stay(day(3, 25), day(4, 4))
    assert lines(piece, terms=(OLD, new)) == [("hire:S1", "7.00"), ("hire:S1@2026-04-01", "6.00")]


def test_gear_already_out_can_keep_the_terms_it_went_out_under():
    new = Terms(id="new", holds_from=day(4, 1), rates=(rate(day="2.00"),), running_stays="keep")
    before, after = stay(day(3, 25), day(4, 4)), stay(day(4, 1), day(4, 4), id="S2")
    assert lines(before, after, terms=(OLD, new)) == [("hire:S1", "10.00"), ("hire:S2@2026-04-01", "6.00")]


def test_minimum_and_steps_run_on_across_new_terms():
    # 10 days under the old terms and 10 under the new; the step after 15 days halves the last 5: 10 + 5 + 2.50.
    new = Terms(id="new", holds_from=day(4, 1), rates=(rate(day="1.00"),), steps=(Step(15, Fraction(1, 2)),))
    piece = stay(day(3, 22), day(4, 11))
    assert lines(piece, terms=(OLD, new)) == [("hire:S1", "10.00"), ("hire:S1@2026-04-01", "7.50")]
    # 20 days were had, 28 are charged at least: 8 more under the terms it ended under.
    least = Terms(id="new", holds_from=day(4, 1), rates=(rate(day="1.00"),), minimum=Minimum(days=28))
    assert lines(piece, terms=(OLD, least)) == [("hire:S1", "10.00"), ("hire:S1@2026-04-01", "18.00")]


def test_tax_follows_the_terms_of_the_days():
    taxed = (Tax(Decimal(10)),)
    first = Terms(id="old", rates=(rate(day="1.00"),), tax=taxed)
    new = Terms(id="new", holds_from=day(4, 1), rates=(rate(day="1.00"),), tax=(Tax(Decimal(15)),))
    priced = bill(stay(day(3, 22), day(4, 11)), terms=(first, new))
    assert [(str(one.rate), str(one.base), str(one.amount)) for one in priced.tax] == [
        ("10", "10.00", "1.00"),
        ("15", "10.00", "1.50"),
    ]


def test_a_correction_of_wrong_terms_is_adjusted_on_the_next_bill():
    # March was billed at 1.00 a day, 31.00; it should have been 0.90: 27.90, so 3.10 goes back in April,
    # when 30 days at 0.90 are 27.00.
    right = Terms(id="right", replaces="old", recorded=at(4, 10), rates=(rate(day="0.90"),))
    piece = stay(day(3, 1))
    march = bill(piece, terms=(OLD, right), since=day(3, 1), until=day(4, 1), known_at=at(4, 2))
    assert [str(one.net) for one in march.lines] == ["31.00"]
    before = (BilledBefore("hire:S1", march.lines[0].net, known_at=at(4, 2)),)
    april = bill(piece, terms=(OLD, right), since=day(4, 1), until=day(5, 1), known_at=at(5, 2), before=before)
    (line,) = april.lines
    assert (str(line.this_period), str(line.adjustment), str(line.net)) == ("27.00", "-3.10", "23.90")
    assert line.causes == ("Terms right, which correct old hold.",)


def test_a_correction_of_the_tax_gives_back_at_the_old_rate_and_charges_at_the_new():
    right = Terms(id="right", rates=(rate(day="1.00"),), tax=(Tax(Decimal(10)),))
    before = (BilledBefore("hire:S1", Decimal("31.00"), tax=Decimal(20)),)
    april = bill(stay(day(3, 1)), terms=right, since=day(4, 1), until=day(5, 1), before=before)
    assert [(str(one.tax.rate), str(one.net)) for one in april.lines] == [("20", "-31.00"), ("10", "61.00")]
    assert april.net == Decimal("30.00")


def test_days_that_no_terms_hold_on_are_named_and_not_charged():
    late = Terms(holds_from=day(4, 1), rates=(rate(day="1.00"),))
    priced = bill(stay(day(3, 30), day(4, 3)), terms=late)
    assert [str(one.net) for one in priced.lines] == ["2.00"]
    assert priced.warnings == ("No terms hold on 2026-03-30: those days are not charged.",)


def test_every_fault_in_terms_is_found_at_once():
    wrong = Terms(
        time_zone="Mars/Base",
        replaces="nothing",
        rates=(Rate(), Rate(day=Decimal(1), choose="week")),
        steps=(Step(20, Fraction(1)), Step(10, Fraction(1))),
        damage=Damage(grades=(Grade("bent"),)),
    )
    assert [one.path for one in check_terms([wrong])] == [
        "terms.time_zone",
        "terms.rates[0]",
        "terms.rates[1].week",
        "terms.steps",
        "terms.damage.grades[0]",
        "terms.replaces",
    ]
