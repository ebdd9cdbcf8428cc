"""Bills and adjustments always come to the charge as now known, whatever arrives late or is put right."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from jobs.hire.adjust import BilledBefore, Period, statement
from jobs.hire.stays import Charge, Facts
from jobs.hire.terms import Price, Terms
from tests.jobs.hire.build import at, bill, day, rate, stay
from tests.jobs.hire.plain import plain_total
from tests.jobs.hire.strategies import FIRST, LAST, days, facts

A_DAY = Terms(rates=(rate(day="1.00"),))
SLOW = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))


def billed(priced, number="", known_at=None):
    """What a bill's lines are to the next one."""
    return tuple(
        BilledBefore(one.line, one.net, one.tax.rate, one.tax.category, known_at, number) for one in priced.lines
    )


def run_of_bills(histories, cuts):
    """One bill after another, each from the facts as they were known then; the last facts close the run."""
    before: tuple[BilledBefore, ...] = ()
    total, since, then = Decimal(0), FIRST, None
    for hire, until in zip(histories, cuts, strict=True):
        priced = statement(hire, Period(since, until), "AUD", None, before, then)
        for line in priced.lines:
            assert line.net == line.charged - line.billed_before == line.this_period + line.adjustment
            assert bool(line.adjustment) == bool(line.causes)
        total += priced.net
        before += billed(priced)
        since, then = until, hire
    return total


@pytest.mark.slow
@SLOW
@given(facts(), st.sets(days, min_size=1, max_size=6))
def test_billing_month_by_month_is_billing_once(hire, ends):
    cuts = [*sorted(end for end in ends if FIRST < end < LAST), LAST]
    once = statement(hire, Period(FIRST, LAST), "AUD").net
    assert run_of_bills([hire] * len(cuts), cuts) == once


@pytest.mark.slow
@SLOW
@given(st.lists(facts(), min_size=2, max_size=4), st.data())
def test_whatever_changes_between_bills_they_add_up_to_what_is_now_known(histories, data):
    # Every bill sees another record altogether: other stays, dates, terms, stand-downs. Nothing is harsher.
    cuts = sorted(data.draw(st.lists(days, min_size=len(histories), max_size=len(histories), unique=True)))
    assume(cuts[0] > FIRST)
    assert run_of_bills(histories, cuts) == plain_total(histories[-1], cuts[-1])


def test_a_late_scan_of_a_return_is_an_adjustment_that_names_it():
    # Out 2 March, back 20 March, but the return was only recorded on 8 April, after March was billed:
    # billed 30 days, 30.00; 18 were due, so April gives back 12.00.
    piece = stay(day(3, 2), day(3, 20), back_recorded=at(4, 8), back_event="E77")
    march = bill(piece, terms=A_DAY, since=day(3, 1), until=day(4, 1), known_at=at(4, 1))
    assert str(march.net) == "30.00"
    april = bill(
        piece,
        terms=A_DAY,
        since=day(4, 1),
        until=day(5, 1),
        known_at=at(5, 1),
        before=billed(march, "B12", at(4, 1)),
    )
    (line,) = april.lines
    assert (str(line.net), str(line.this_period), str(line.adjustment)) == ("-12.00", "0.00", "-12.00")
    assert line.causes == ("S1 was back on 20 March 2026 (event E77); the bill had it still out.",)
    assert "Of this, -12.00 adjusts earlier bills: S1 was back on 20 March 2026 (event E77)" in line.why


def test_a_piece_found_after_it_was_billed_as_lost_gives_the_loss_back():
    terms = Terms(rates=(rate(day="1.00"),), replacement=(Price(Decimal(120)),))
    lost = stay(day(3, 2), day(3, 12), end="lost")
    march = bill(lost, terms=terms, since=day(3, 1), until=day(4, 1))
    assert [str(one.net) for one in march.lines] == ["10.00", "120.00"]
    found = stay(day(3, 2), day(4, 6))
    april = statement(
        Facts((terms,), (found,)), Period(day(4, 1), day(5, 1)), "AUD", None, billed(march), Facts((terms,), (lost,))
    )
    # 2 March to 5 April are 35 days; 10 were billed, 20 are the rest of March, 5 are April's; the loss goes back.
    assert [(one.line, one.this_period, one.adjustment) for one in april.lines] == [
        ("hire:S1", Decimal(5), Decimal(20)),
        ("loss:S1", Decimal(0), Decimal(-120)),
    ]
    assert april.lines[0].causes == april.lines[1].causes
    assert april.lines[0].causes[0].startswith("S1 was back on 6 April 2026")


def test_a_stay_that_never_was_is_given_back_whole():
    priced = bill(terms=A_DAY, since=day(4, 1), until=day(5, 1), before=(BilledBefore("hire:S9", Decimal("30.00")),))
    (line,) = priced.lines
    assert (line.kind, str(line.net)) == ("adjustment", "-30.00")
    assert line.why.startswith("Billed before and given back:")


def test_a_charge_is_billed_once():
    truck = (Charge("delivery", unit_amount=Decimal(150), id="D7"),)
    first = bill(terms=A_DAY, charges=truck, since=day(3, 1), until=day(4, 1))
    assert str(first.net) == "150.00"
    second = bill(terms=A_DAY, charges=truck, since=day(4, 1), until=day(5, 1), before=billed(first))
    assert second.lines == () and second.net == 0


def test_what_is_not_yet_known_is_not_charged():
    late = stay(day(3, 2), out_recorded=at(4, 3), id="S2")
    priced = bill(stay(day(3, 2)), late, terms=A_DAY, until=day(4, 1), known_at=at(4, 2))
    assert [one.line for one in priced.lines] == ["hire:S1"]


def test_a_return_without_a_time_of_record_is_known_when_it_happened():
    piece = stay(day(3, 2), day(3, 20))
    assert str(bill(piece, terms=A_DAY, until=day(4, 1), known_at=at(3, 10)).net) == "30.00"
    assert str(bill(piece, terms=A_DAY, until=day(4, 1), known_at=at(3, 21)).net) == "18.00"


def test_nothing_is_billed_twice_where_periods_touch():
    # Continuation: the next bill starts the next day (common practice, no source). 31 + 30 + 31 days.
    before: tuple[BilledBefore, ...] = ()
    nets = []
    for month in (3, 4, 5):
        since = date(2026, month, 1)
        until = (since + timedelta(days=32)).replace(day=1)
        priced = bill(stay(day(3, 1)), terms=A_DAY, since=since, until=until, before=before)
        before += billed(priced)
        nets.append(str(priced.net))
    assert nets == ["31.00", "30.00", "31.00"]
