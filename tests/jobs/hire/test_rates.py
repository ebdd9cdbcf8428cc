"""Rates, worked by hand: days, weeks, months and uses, the cheapest of them, steps, minimum, discounts."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.hire.pricing import add_months
from jobs.hire.stays import StandDown, Use
from jobs.hire.terms import Discount, Minimum, Rate, Step, Terms
from tests.jobs.hire.build import bill, day, net, rate, stay

START = day(3, 2)


def cost(days: int, **more) -> str:
    """What one piece costs for so many days from Monday 2 March 2026, every day charged."""
    terms = more.pop("terms", None) or Terms(rates=(rate(**more),))
    return net(stay(START, START + timedelta(days=days)), terms=terms)


@pytest.mark.parametrize(
    ("days", "charge"),
    # 10.00 a day, 40.00 a week, 120.00 a month (31 days from 2 March). Common practice, no source.
    [
        (3, "30.00"),  # 3 days
        (4, "40.00"),  # 4 days, or the week
        (5, "40.00"),  # the week is cheaper than 5 days
        (9, "60.00"),  # a week and 2 days
        (12, "80.00"),  # two weeks are cheaper than a week and 5 days (90.00)
        (20, "120.00"),  # the month; 3 weeks (21 days) would be 120.00 as well
        (28, "120.00"),  # the month is cheaper than 4 weeks (160.00)
        (31, "120.00"),  # 2 March to 1 April is the month
        (33, "140.00"),  # the month and 2 days
        (61, "240.00"),  # two months, to 1 May
        (62, "250.00"),  # two months and a day
    ],
)
def test_the_cheapest_mix_of_months_weeks_and_days(days, charge):
    assert cost(days, day="10", week="40", month="120") == charge


def test_a_fixed_unit_is_charged_whatever_is_cheaper():
    # 12 days at 10.00 a day although two weeks at 40.00 would be less; and 12/7 of a week at 40.00 is 68.57.
    assert cost(12, day="10", week="40", choose="day") == "120.00"
    assert cost(12, day="10", week="40", choose="week") == "68.57"


def test_odd_days_without_a_day_rate_are_a_share_of_the_week_or_all_of_it():
    # 9 days at 40.00 a week: 9/7 are 51.43 (a seventh a day: a UK hirer's guide); a begun week charged: 80.00.
    assert cost(9, week="40") == "51.43"
    assert cost(9, week="40", odd_days="whole") == "80.00"


@pytest.mark.parametrize(
    ("month", "charge"),
    # 45 days from 2 March at 120.00 a month. 28 days: 45/28 are 192.86; 30: 45/30 are 180.00.
    # By the calendar: 2 March to 1 April is one month of 31 days, 14 days of the 30 from 2 April: 120 + 56 = 176.00.
    # A month of four weeks, of 30 days or of the calendar: common practice, no source.
    [("28", "192.86"), ("30", "180.00"), ("calendar", "176.00")],
)
def test_a_month_is_28_or_30_days_or_to_the_same_date_of_the_next(month, charge):
    assert cost(45, terms=Terms(rates=(rate(month="120"),), month=month)) == charge


def test_a_month_from_the_31st_ends_with_the_next_month():
    # 31 January to 27 February is the month (28 days), 28 February begins the next: 29 days are 1 + 1/31 month.
    one = stay(day(1, 31), day(3, 1))
    assert net(one, terms=Terms(rates=(rate(month="310"),))) == "320.00"


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.dates(date(1990, 1, 1), date(2100, 1, 1)), st.integers(0, 400))
def test_calendar_months_are_dateutils(first, months):
    assert add_months(first, months) == first + relativedelta(months=months)


def test_the_narrowest_rate_is_used():
    terms = Terms(rates=(rate(day="1"), Rate(kind="bracket", day=Decimal(2)), Rate(type="FB-150", day=Decimal(3))))
    back = day(3, 3)
    assert net(stay(START, back), terms=terms) == "1.00"
    assert net(stay(START, back, kind="bracket"), terms=terms) == "2.00"
    assert net(stay(START, back, type="FB-150", kind="bracket"), terms=terms) == "3.00"


def test_uses_are_charged_beside_the_time_or_instead_of_it():
    # 40 pieces, 14 days at 0.35 are 196.00; cast twice: 80 uses at 1.50 are 120.00. Common practice, no source.
    forty, casts = stay(START, day(3, 16), count=40), (Use("S1", day(3, 4), 40), Use("S1", day(3, 11), 40))
    both = bill(forty, terms=Terms(rates=(rate(day="0.35", use="1.50"),)), uses=casts)
    assert [(one.kind, str(one.net)) for one in both.lines] == [("hire", "196.00"), ("use", "120.00")]
    assert both.lines[1].uses == 80
    less = bill(forty, terms=Terms(rates=(rate(day="0.35", use="1.50", uses="cheaper"),)), uses=casts)
    assert [(one.kind, str(one.net)) for one in less.lines] == [("hire", "120.00")]


def test_a_use_outside_its_stay_is_charged_and_pointed_out():
    # What happened on the ground wins: the cast was seen, so the dates are what needs a look.
    priced = bill(stay(START, day(3, 16)), terms=Terms(rates=(rate(use="1.50"),)), uses=(Use("S1", day(3, 20), 1),))
    assert str(priced.net) == "1.50"
    assert priced.warnings == ("S1 was cast on 2026-03-20, when it was not out: charged, but look at it.",)


def test_more_cast_than_there_are_is_charged_and_pointed_out():
    priced = bill(stay(START, day(3, 16)), terms=Terms(rates=(rate(use="1.50"),)), uses=(Use("S1", day(3, 5), 3),))
    assert str(priced.net) == "4.50"
    assert priced.warnings == ("3 of S1 were cast on 2026-03-05, though it has 1: charged, but look at it.",)


def test_stand_down_days_are_charged_at_the_agreed_share():
    # 14 days at 0.35 for 40 pieces, three of them at half: 11 + 1.5 = 12.5 days, 175.00.
    # Half, only if agreed beforehand: an Australian hirer's published terms. Two thirds: CPA clause 25:
    # 11 + 2 = 13 days, 182.00.
    forty = stay(START, day(3, 16), count=40)
    for share, charge in ((Fraction(1, 2), "175.00"), (Fraction(2, 3), "182.00")):
        down = StandDown(day(3, 4), day(3, 7), share, "rain", "the site lead")
        priced = bill(forty, terms=Terms(rates=(rate(day="0.35"),)), downs=(down,))
        assert str(priced.net) == charge
        assert "(rain, agreed by the site lead)" in priced.lines[0].why


def test_a_week_with_stand_down_days_costs_the_mean_of_its_days():
    # A week at 40.00 with two of seven days at half: 40 x (5 + 2/2) / 7 = 34.29.
    down = StandDown(day(3, 4), day(3, 6), Fraction(1, 2))
    terms = Terms(rates=(rate(day="10", week="40"),))
    assert net(stay(START, day(3, 9)), terms=terms, downs=(down,)) == "34.29"


def test_of_two_stand_downs_on_one_day_the_lower_share_holds():
    downs = (StandDown(day(3, 2), day(3, 9), Fraction(1, 2)), StandDown(day(3, 2), day(3, 4), Fraction(0)))
    # 14 days of 10.00: two free, five at half, seven full: 0 + 25 + 70 = 95.00.
    assert net(stay(START, day(3, 16)), terms=Terms(rates=(rate(day="10"),)), downs=downs) == "95.00"


def test_a_shutdown_can_leave_a_nominal_charge():
    # A nominal rate rather than a suspension, so that liability continues: CPA Bulletin Nov 2024.
    down = StandDown(day(3, 9), day(3, 16), Fraction(1, 100))
    # A week at 70.00 and a week at a hundredth of it: 70.70.
    assert net(stay(START, day(3, 16)), terms=Terms(rates=(rate(week="70"),)), downs=(down,)) == "70.70"


def test_long_hire_steps_hold_beyond_their_days_or_for_the_whole_hire():
    # 100 days at 1.00, nine tenths after 84: 84 + 16 x 0.9 = 98.40; for the whole hire 90.00.
    # Common practice, no source.
    steps = (Step(84, Fraction(9, 10)),)
    assert cost(100, terms=Terms(rates=(rate(day="1"),), steps=steps)) == "98.40"
    assert cost(100, terms=Terms(rates=(rate(day="1"),), steps=steps, steps_for="whole")) == "90.00"
    assert cost(84, terms=Terms(rates=(rate(day="1"),), steps=steps, steps_for="whole")) == "84.00"


def test_steps_follow_one_another():
    # 10 days full, 10 at 0.8, 10 at 0.5: 10 + 8 + 5 = 23.00.
    steps = (Step(10, Fraction(4, 5)), Step(20, Fraction(1, 2)))
    assert cost(30, terms=Terms(rates=(rate(day="1"),), steps=steps)) == "23.00"


def test_the_minimum_in_days_is_charged_once_the_gear_is_back():
    # Four weeks at least at 0.35 a day: 5 days on hire are charged as 28, 9.80; while out only the days so far.
    # A minimum such as 28 days or a week: common practice, no source.
    terms = Terms(rates=(rate(day="0.35"),), minimum=Minimum(days=28))
    short = stay(START, day(3, 7))
    assert net(short, terms=terms) == "9.80"
    assert net(short, terms=terms, until=day(3, 6)) == "1.40"


def test_the_minimum_amount_is_for_a_piece_or_for_a_line():
    # 5 days at 0.35 are 1.75 a piece. At least 3.00 a piece: 40 x 3.00. At least 100.00 for the line: 100.00.
    forty = stay(START, day(3, 7), count=40)
    piece = Terms(rates=(rate(day="0.35"),), minimum=Minimum(amount=Decimal(3)))
    line = Terms(rates=(rate(day="0.35"),), minimum=Minimum(amount=Decimal(100), per="line"))
    assert net(forty, terms=piece) == "120.00"
    assert net(forty, terms=line) == "100.00"


def test_a_minimum_for_a_delivery_is_made_up_once_all_of_it_is_back():
    # One truck: 10 forms and 4 brackets at 1.00 a day, 5 days: 50.00 and 20.00. At least 100.00: 30.00 more, on a line
    # of its own; not while a bracket is still out. Common practice, no source.
    terms = Terms(rates=(rate(day="1.00"),), minimum=Minimum(amount=Decimal(100), per="delivery"))
    forms = stay(START, day(3, 7), count=10, line="D1")
    brackets = stay(START, day(3, 7), count=4, id="S2", type="FB-150", line="D1")
    both = bill(forms, brackets, terms=terms)
    assert [(one.line, str(one.net)) for one in both.lines] == [
        ("hire:D1:EF-3000", "50.00"),
        ("hire:D1:FB-150", "20.00"),
        ("minimum:D1", "30.00"),
    ]
    assert both.lines[2].why == (
        "14 pieces of one delivery, all back, came to 70.00 for time. At least 100 is charged for a delivery: "
        "made up by 30.00."
    )
    out = stay(START, count=4, id="S2", type="FB-150", line="D1")
    assert [one.kind for one in bill(forms, out, terms=terms, until=day(3, 10)).lines] == ["hire", "hire"]


def test_the_minimum_is_reached_to_the_cent_whatever_its_lines_round_to():
    # Two lines of a third of a week at 0.10 (3.333...): 3.33 each is 6.66, and 93.34 makes 100.00, not 93.33.
    terms = Terms(rates=(rate(week="10"),), minimum=Minimum(amount=Decimal(100), per="delivery"), week="six_day")
    two = [stay(START, day(3, 4), id=name, type=name, line="D1") for name in "AB"]
    assert [str(one.net) for one in bill(*two, terms=terms).lines] == ["3.33", "3.33", "93.34"]


def test_an_exchange_continues_the_minimum_of_the_delivery_it_began_with():
    # Bent after 4 days and exchanged; its replacement came on another truck and stayed 6: 10.00 in all, at least 25.00.
    bent = stay(START, day(3, 6), line="D1")
    good = stay(day(3, 6), day(3, 12), id="S2", continues="S1", line="D2")
    terms = Terms(rates=(rate(day="1"),), minimum=Minimum(amount=Decimal(25), per="delivery"))
    assert [(one.line, str(one.net)) for one in bill(bent, good, terms=terms).lines] == [
        ("hire:D1:EF-3000", "4.00"),
        ("hire:D2:EF-3000", "6.00"),
        ("minimum:D1", "15.00"),
    ]
    still = stay(day(3, 6), id="S2", continues="S1", line="D2")
    assert "minimum:D1" not in {one.line for one in bill(bent, still, terms=terms, until=day(3, 12)).lines}


def test_an_exchange_is_charged_by_time_or_uses_over_the_whole_hire():
    # 1.00 a day or 2.50 a use, whichever is less, 14 days at least. Bent after 4 days and one use: 2.50. Its
    # replacement, 2 days and two uses: the hire is 14.00 for time or 7.50 for three uses, so 5.00 more.
    terms = Terms(rates=(rate(day="1", use="2.50", uses="cheaper"),), minimum=Minimum(days=14))
    pair = stay(START, day(3, 6)), stay(day(3, 6), day(3, 8), id="S2", continues="S1")
    uses = [Use("S1", day(3, 4), 1), Use("S2", day(3, 7), 2)]
    lines = bill(*pair, terms=terms, uses=tuple(uses)).lines
    assert [str(one.net) for one in lines] == ["2.50", "5.00"]
    assert "2 uses at 2.50, less than the charge for time for the whole hire, of which 1 use and 2.5 of" in lines[1].why


def test_an_exchange_charged_by_time_or_uses_never_falls_below_nought():
    # Nine days at 10.00 and no cast: nothing. Its replacement takes the hire past ten days, whence a tenth is charged
    # for the whole of it: 11.00, or one use at 50.00. So 11.00, and not 11.00 - 90.00.
    terms = Terms(
        rates=(rate(day="10", use="50", uses="cheaper"),), steps=(Step(10, Fraction(1, 10)),), steps_for="whole"
    )
    pair = stay(START, day(3, 11)), stay(day(3, 11), day(3, 13), id="S2", continues="S1")
    lines = bill(*pair, terms=terms, uses=(Use("S2", day(3, 12), 1),)).lines
    assert [str(one.net) for one in lines] == ["0.00", "11.00"]


def test_the_minimum_for_a_piece_is_said():
    terms = Terms(rates=(rate(day="0.35"),), minimum=Minimum(amount=Decimal(3)))
    (line,) = bill(stay(START, day(3, 7), count=40), terms=terms).lines
    assert "5 days x 0.35 a day a piece, made up to the minimum of 3 a piece. Together 120.00." in line.why


def test_an_exchange_for_damage_continues_the_minimum_and_the_weeks():
    # Out 2 March, bent and back on the 6th (4 days); its replacement out that day, back on the 12th (6 days).
    # Together 10 days: a week and 3 days are 70.00, not 40.00 + 40.00. With 14 days at least: two weeks, 80.00.
    # Common practice, no source.
    bent = stay(START, day(3, 6))
    good = stay(day(3, 6), day(3, 12), id="S2", continues="S1")
    terms = Terms(rates=(rate(day="10", week="40"),))
    assert [str(one.net) for one in bill(bent, good, terms=terms).lines] == ["40.00", "30.00"]
    least = Terms(rates=(rate(day="10", week="40"),), minimum=Minimum(days=14))
    assert [str(one.net) for one in bill(bent, good, terms=least).lines] == ["40.00", "40.00"]


def test_the_day_of_an_exchange_is_charged_once():
    # Both days count: 2 to 6 March on the first piece, 7 to 12 on the second: 5 + 6, not 5 + 7.
    terms = Terms(rates=(rate(day="10"),), days_charged="both")
    pair = stay(START, day(3, 6)), stay(day(3, 6), day(3, 12), id="S2", continues="S1")
    assert [one.days for one in bill(*pair, terms=terms).lines] == [5, 6]


def test_a_discount_is_taken_before_rounding():
    # 14 days at 0.35 less 2.5 per cent: 4.90 x 0.975 = 4.7775, 4.78.
    terms = Terms(rates=(rate(day="0.35"),), discounts=(Discount(Decimal("2.5")),))
    assert cost(14, terms=terms) == "4.78"


def test_hired_in_gear_has_its_own_rate_and_shows_what_it_costs_us():
    # 14 days: earns 14 x 0.50 = 7.00, costs 14 x 0.30 = 4.20. Common practice, no source.
    terms = Terms(
        rates=(rate(day="0.35"), Rate(hired_in=True, day=Decimal("0.50"))), hired_in_costs=(rate(day="0.30"),)
    )
    (line,) = bill(stay(START, day(3, 16), hired_in=True), terms=terms).lines
    assert (str(line.net), str(line.cost)) == ("7.00", "4.20")
    (own,) = bill(stay(START, day(3, 16)), terms=terms).lines
    assert (str(own.net), own.cost) == ("4.90", None)


def test_gear_without_a_rate_is_on_the_bill_at_nothing_with_a_warning():
    priced = bill(stay(START, day(3, 16)), terms=Terms())
    assert [str(one.net) for one in priced.lines] == ["0.00"]
    assert priced.warnings == ("The terms give no rate for EF-3000: its hire is charged at nothing.",)


def test_stays_that_share_a_line_are_rounded_once():
    # Three pieces of one week's third day: 3 x 1/7 x 0.10 = 0.042857..., 0.04; each alone is 0.01, together 0.03.
    terms = Terms(rates=(rate(week="0.10"),))
    alone = [stay(START, day(3, 3), id=name) for name in "ABC"]
    shared = [stay(START, day(3, 3), id=name, line="D1") for name in "ABC"]
    assert net(*alone, terms=terms) == "0.03"
    (line,) = bill(*shared, terms=terms).lines
    assert (line.line, str(line.net), line.stays) == ("hire:D1:EF-3000", "0.04", ("A", "B", "C"))


def test_the_reason_can_be_followed_with_a_pencil():
    (line,) = bill(stay(START, day(3, 16), count=40), terms=Terms(rates=(rate(day="0.35"),))).lines
    assert line.why == (
        "EF-3000: 40 out 2 March 2026, returned 16 March 2026: 14 days charged, 14 days x 0.35 a day a piece. "
        "Together 196.00. Days: the day out counts, the day back does not."
    )


def test_a_hired_in_piece_costs_what_its_owner_asks_a_day():
    # Two pieces hired in at 0.90 a day each, hired out at 1.50 for 10 days: earns 30.00, costs 18.00.
    piece = stay(day(3, 2), day(3, 12), count=2, hired_in=True, cost_day=Decimal("0.90"))
    (line,) = bill(piece, terms=Terms(rates=(rate(day="1.50"),))).lines
    assert (str(line.net), str(line.cost)) == ("30.00", "18.00")


def test_what_our_customer_is_let_off_our_owner_still_asks():
    # 10 days at 1.50 from 2 March, two of them at half and those beyond the sixth at 0.8: 4 + 2 x half + 4 x 0.8 = 8.2
    # days, 12.30. Its owner asks 0.90 for each of the ten: 9.00. Common practice, no source.
    terms = Terms(rates=(rate(day="1.50"),), steps=(Step(6, Fraction(4, 5)),))
    down = StandDown(day(3, 4), day(3, 6), Fraction(1, 2))
    piece = stay(day(3, 2), day(3, 12), hired_in=True, cost_day=Decimal("0.90"))
    (line,) = bill(piece, terms=terms, downs=(down,)).lines
    assert (str(line.net), str(line.cost)) == ("12.30", "9.00")


def test_gear_charged_by_its_uses_alone_has_no_line_for_time():
    uses = (Use("S1", day(3, 4), 40), Use("S1", day(3, 9), 40))
    lines = bill(stay(START, day(3, 16), count=40), terms=Terms(rates=(rate(use="1.50"),)), uses=uses).lines
    assert [(one.line, str(one.net)) for one in lines] == [("use:S1", "120.00")]
