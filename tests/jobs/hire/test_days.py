"""Which days are charged, each rule worked by hand, then against numpy.busday_count."""

from __future__ import annotations

from datetime import date, time, timedelta

import numpy
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.hire.terms import Terms
from tests.jobs.hire.build import at, bill, day, net, rate, stay

A_DAY = rate(day="0.35")


def days_of(one, terms, **more):
    return bill(one, terms=terms, **more).lines[0].days


@pytest.mark.parametrize(
    ("counts", "days", "charge"),
    [
        # Out Monday 2 March, back Monday 16 March: 2nd to 15th are 14 days, with the 16th 15,
        # without the 2nd and with the 16th 14 again, with neither the 3rd to the 15th, 13. At 0.35 for 40 pieces.
        # "Day out charged, day back not, or both": common practice, no source.
        ("out", 14, "196.00"),
        ("both", 15, "210.00"),
        ("back", 14, "196.00"),
        ("neither", 13, "182.00"),
    ],
)
def test_the_day_out_and_the_day_back_count_as_the_terms_say(counts, days, charge):
    forty = stay(day(3, 2), day(3, 16), count=40)
    terms = Terms(rates=(A_DAY,), days_charged=counts)
    assert days_of(forty, terms) == days
    assert net(forty, terms=terms) == charge


@pytest.mark.parametrize(("counts", "days"), [("out", 1), ("back", 1), ("both", 1), ("neither", 0)])
def test_out_and_back_on_one_day_is_one_day_if_either_counts(counts, days):
    # Common practice, no source: a piece that left the yard has been on hire.
    lines = bill(stay(day(3, 2), day(3, 2)), terms=Terms(rates=(A_DAY,), days_charged=counts)).lines
    assert [one.days for one in lines] == [days] * (days > 0)


@pytest.mark.parametrize(
    ("hour", "days"),
    # Out Monday 2 March, back Thursday 5 March: 2, 3, 4 are three days; from noon on the day out is free.
    # A stated cut-off hour: common practice, no source.
    [(11, 3), (12, 2), (15, 2)],
)
def test_gear_that_goes_out_from_the_cut_off_hour_is_free_that_day(hour, days):
    terms = Terms(rates=(A_DAY,), cut_off_out=time(12))
    assert days_of(stay(at(3, 2, hour), day(3, 5)), terms) == days


@pytest.mark.parametrize(
    ("hour", "minute", "days"),
    # Back on the 5th by half past nine, the 5th is free; later than that it is a fourth day.
    [(8, 0, 3), (9, 30, 3), (9, 31, 4), (16, 0, 4)],
)
def test_gear_that_is_back_by_the_cut_off_hour_is_free_that_day(hour, minute, days):
    terms = Terms(rates=(A_DAY,), cut_off_back=time(9, 30))
    assert days_of(stay(day(3, 2), at(3, 5, hour, minute)), terms) == days


def test_an_instant_falls_on_the_day_its_own_offset_writes_unless_the_terms_name_a_zone():
    # 22:00 UTC on 1 March is 09:00 on 2 March in Sydney (UTC+11 in summer time), so one day fewer there.
    late = stay(at(3, 1, 22), day(3, 5))
    assert days_of(late, Terms(rates=(A_DAY,))) == 4
    assert days_of(late, Terms(rates=(A_DAY,), time_zone="Australia/Sydney")) == 3


def test_hire_starts_when_received_if_the_terms_say_so():
    # Left the yard on Monday 2 March, received on Wednesday 4 March, back on the 16th.
    # Starts on leaving the depot: CPA Model Conditions 1(b). On receipt: common practice, no source.
    travelled = stay(day(3, 2), day(3, 16), received=day(3, 4))
    assert days_of(travelled, Terms(rates=(A_DAY,))) == 14
    assert days_of(travelled, Terms(rates=(A_DAY,), starts="received")) == 12


@pytest.mark.parametrize(
    ("ends", "days"),
    # Off-hired on the 10th, collected on the 12th, counted in the yard on the 16th, the day back free:
    # 2nd to 9th are 8, to the 11th 10, to the 15th 14 days.
    # Received back at the depot: CPA Model Conditions 1(b). At the off-hire notice: a hirer's published terms.
    [("off_hire", 8), ("collected", 10), ("yard_count", 14)],
)
def test_hire_ends_at_what_the_terms_say(ends, days):
    ended = stay(day(3, 2), day(3, 16), off_hire=day(3, 10), collected=day(3, 12))
    assert days_of(ended, Terms(rates=(A_DAY,), ends=ends)) == days


def test_off_hired_gear_still_on_site_is_not_charged():
    waiting = stay(day(3, 2), off_hire=day(3, 10))
    assert days_of(waiting, Terms(rates=(A_DAY,), ends="off_hire"), until=day(5, 1)) == 8


@pytest.mark.parametrize(
    ("notice", "days"),
    # Seven days' notice from Tuesday 10 March: calendar days run to the 17th; seven working days are
    # 11, 12, 13, 16, 17, 18, 19: hire ends on the 19th. Charged Monday to Friday, the last day free:
    # 2-6, 9-13, 16 are 11 days; 2-6, 9-13, 16-18 are 13.
    # CPA Bulletin Nov 2024 has 7 working days, Bulletin Aug 2021 7 calendar days: hence a setting.
    [("calendar", 11), ("working", 13)],
)
def test_off_hire_notice_runs_on(notice, days):
    terms = Terms(rates=(A_DAY,), ends="off_hire", week="five_day", off_hire_notice_days=7, off_hire_notice=notice)
    assert days_of(stay(day(3, 2), day(4, 1), off_hire=day(3, 10)), terms) == days


@pytest.mark.parametrize(
    ("week", "days", "charge"),
    # 40 pieces, Monday 2 March to Thursday 19 March, day back free, 2.10 a week. All days: 17 = 17/7 weeks, 204.00.
    # Monday to Saturday: less the 8th and 15th, 15 = 15/6 weeks, 210.00. Monday to Friday: less the 7th and
    # 14th too, 13 = 13/5 weeks, 218.40. Five-day week: CPA "Working Week" 1(i); seven days, each odd day
    # a seventh: a UK hirer's guide; weekends and holidays on hire: CPA 1(d).
    [("calendar", 17, "204.00"), ("six_day", 15, "210.00"), ("five_day", 13, "218.40")],
)
def test_a_week_is_seven_six_or_five_charged_days(week, days, charge):
    forty = stay(day(3, 2), day(3, 19), count=40)
    terms = Terms(rates=(rate(week="2.10"),), week=week)
    assert days_of(forty, terms) == days
    assert net(forty, terms=terms) == charge


def test_listed_holidays_are_not_charged():
    # Good Friday 3 April and Easter Monday 6 April 2026 (PyPI holidays, AU-NSW): 1, 2, 7, 8 April are left.
    easter = frozenset({day(4, 3), day(4, 6)})
    terms = Terms(rates=(A_DAY,), week="five_day", holidays=easter)
    assert days_of(stay(day(4, 1), day(4, 9)), terms) == 4


starts = st.dates(date(2020, 1, 1), date(2030, 12, 31))
lengths = st.integers(0, 900)


@given(starts, lengths, st.sampled_from(["calendar", "six_day", "five_day"]), st.sets(starts, max_size=30))
def test_days_charged_are_what_numpy_counts(out, length, week, holidays):
    # numpy.busday_count counts [begin, end) by a week mask and holidays: the day out in, the day back not.
    back = out + timedelta(days=length + 1)
    mask = {"calendar": "1111111", "six_day": "1111110", "five_day": "1111100"}[week]
    terms = Terms(rates=(A_DAY,), week=week, holidays=frozenset(holidays))
    lines = bill(stay(out, back), terms=terms, until=back + timedelta(days=1)).lines
    wanted = int(numpy.busday_count(out, back, weekmask=mask, holidays=sorted(holidays)))
    assert sum(one.days for one in lines) == wanted


def test_a_year_of_working_days_is_numpys_own_example():
    # numpy's documentation: busday_count('2011', '2012') is 260, Saturdays of 2011 are 53.
    terms = Terms(rates=(A_DAY,), week="five_day")
    assert days_of(stay(date(2011, 1, 1), date(2012, 1, 1)), terms) == 260
