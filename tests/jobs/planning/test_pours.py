"""The days of a pour and what moves with it. 2027-03-01 is a Monday."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calendars.working import WorkingCalendar
from jobs.errors import Refused
from jobs.planning.moving import check_order, pours_after, preview_move
from jobs.planning.pours import PourTimes, check_cast_day, pour_days

from .shapes import panel

WEEK = WorkingCalendar()
TIMES = PourTimes()


def march(day):
    return date(2027, 3, day)


def dates(cast, times=TIMES, calendar=WEEK):
    found = pour_days(cast, times, calendar)
    return [found.set.day, found.cast.day, found.strip.day, found.free.day]


def test_a_pour_is_set_the_day_before_stripped_the_day_after_and_free_the_next():
    assert dates(march(2)) == [1, 2, 3, 4]


def test_cure_runs_through_the_weekend_but_stripping_waits_for_monday():
    assert dates(march(5)) == [4, 5, 8, 9]


@pytest.mark.parametrize(("hours", "strip"), [(0, 2), (16, 3), (24, 3), (25, 4), (72, 5)])
def test_cure_is_in_calendar_hours_rounded_up_to_days(hours, strip):
    assert dates(march(2), PourTimes(cure_hours=hours))[2] == strip


def test_forms_are_set_again_on_the_day_of_stripping_only_if_a_setting_says_so():
    assert dates(march(2), PourTimes(set_again_same_day=True)) == [1, 2, 3, 3]


def test_cleaning_and_long_setting_take_working_days():
    assert dates(march(5), PourTimes(set_days=2, clean_days=2)) == [3, 5, 8, 11]


def test_holidays_are_not_worked():
    calendar = WorkingCalendar(holidays=frozenset({march(1), march(3)}))
    found = pour_days(march(2), TIMES, calendar)
    assert (found.set, found.strip, found.free) == (date(2027, 2, 26), march(4), march(5))


def test_a_pour_on_a_saturday_is_set_on_the_friday_and_said_so():
    assert dates(march(6)) == [5, 6, 8, 9]
    assert [found.code for found in check_cast_day("P1", march(6), WEEK)] == ["pour-day"]
    assert check_cast_day("P1", march(5), WEEK) == []


def test_a_pour_on_a_sunday_or_after_a_holiday_is_set_before_it():
    calendar = WorkingCalendar(holidays=frozenset({march(5)}))
    assert pour_days(march(7), TIMES, calendar).set == march(4)


@given(
    st.dates(date(2026, 1, 1), date(2028, 1, 1)),
    st.builds(PourTimes, st.integers(0, 5), st.integers(0, 200), st.integers(1, 3), st.integers(0, 3), st.booleans()),
)
def test_the_days_of_a_pour_are_in_order(cast, times):
    found = pour_days(cast, times, WEEK)
    assert found.set <= found.cast <= found.strip <= found.free
    assert found.set < found.free
    assert found.strip - found.cast >= timedelta(hours=times.cure_hours)


def test_times_that_make_no_sense_are_refused():
    with pytest.raises(Refused, match="at least one working day to strip"):
        PourTimes(strip_days=0)


PANELS = [
    panel("A1", stack="A", level=1, pour="P1"),
    panel("A2", stack="A", level=2, pour="P2"),
    panel("B1", stack="B", level=1, pour="P2"),
    panel("B2", stack="B", level=2, pour="P3"),
    panel("C1", stack="C", level=1, pour="P4"),
]
CASTS = {"P1": march(2), "P2": march(5), "P3": march(10), "P4": march(3)}


def test_a_pour_moves_everything_after_it_in_its_stacks_and_theirs():
    assert pours_after("P1", PANELS) == ["P2", "P3"]
    move = preview_move("P1", march(4), PANELS, CASTS, TIMES, WEEK)
    assert [(one.pour, one.after.cast.day) for one in move.moved] == [("P1", 4), ("P2", 9), ("P3", 12)]
    assert (move.working_days, move.findings) == (2, ())


def test_moving_earlier_moves_what_follows_earlier_too():
    move = preview_move("P2", march(3), PANELS, CASTS, TIMES, WEEK)
    assert {one.pour: one.after.cast.day for one in move.moved} == {"P2": 3, "P3": 8}
    assert [found.code for found in move.findings] == ["set-before-strip"]


def test_what_is_cast_stays_and_is_said_so():
    move = preview_move("P1", march(4), PANELS, CASTS, TIMES, WEEK, already_cast={"P2"})
    assert [one.pour for one in move.moved] == ["P1", "P3"]
    assert "already-cast" in [found.code for found in move.findings]
    with pytest.raises(Refused) as refused:
        preview_move("P2", march(9), PANELS, CASTS, TIMES, WEEK, already_cast={"P2"})
    assert refused.value.code == "already-cast"


def test_a_panel_set_before_the_one_below_is_stripped_is_flagged():
    days = {name: pour_days(cast, TIMES, WEEK) for name, cast in CASTS.items()}
    assert check_order(PANELS, days) == []
    days["P2"] = pour_days(march(3), TIMES, WEEK)
    assert [found.panel for found in check_order(PANELS, days)] == ["A2"]


@given(st.integers(1, 28))
def test_a_move_and_its_reverse_leave_the_working_days_as_they_were(day):
    if not WEEK.is_working(march(day)):
        return
    there = preview_move("P1", march(day), PANELS, CASTS, TIMES, WEEK)
    after = CASTS | {one.pour: one.after.cast for one in there.moved}
    back = preview_move("P1", CASTS["P1"], PANELS, after, TIMES, WEEK)
    assert after | {one.pour: one.after.cast for one in back.moved} == CASTS
