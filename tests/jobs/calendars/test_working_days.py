"""Working days against numpy.busday_count and busday_offset, and a region's holidays."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calendars.regions import known_regions, public_holidays
from jobs.calendars.working import WorkingCalendar
from jobs.errors import Refused

days = st.dates(date(2020, 1, 1), date(2032, 12, 31))
masks = st.text("01", min_size=7, max_size=7).filter(lambda mask: "1" in mask)
holidays = st.frozensets(days, max_size=40)


@given(days, days, masks, holidays)
def test_counts_agree_with_numpy_busday_count(start, until, mask, off):
    calendar = WorkingCalendar(mask, off)
    ours = calendar.count(min(start, until), max(start, until))
    assert ours == np.busday_count(min(start, until), max(start, until), mask, sorted(off))


@given(days, st.integers(-60, 60), masks, holidays)
def test_adding_agrees_with_numpy_busday_offset(day, count, mask, off):
    roll = "forward" if count >= 0 else "backward"
    theirs = np.busday_offset(day, count, roll, mask, sorted(off))
    assert WorkingCalendar(mask, off).add(day, count) == theirs.astype(date)


@given(days, st.integers(0, 60), masks, holidays)
def test_what_is_added_is_counted(day, count, mask, off):
    calendar = WorkingCalendar(mask, off)
    assert calendar.count(calendar.on_or_after(day), calendar.add(day, count)) == count


@pytest.mark.parametrize(
    ("start", "until", "mask", "days"),
    [
        (date(2011, 1, 1), date(2011, 2, 1), "1111100", 21),
        (date(2011, 1, 1), date(2012, 1, 1), "1111100", 260),
        (date(2011, 1, 1), date(2012, 1, 1), "0000010", 53),
        (date(2026, 1, 1), date(2027, 1, 1), "1111100", 261),
    ],
)
def test_counts_of_the_numpy_docstring(start, until, mask, days):
    """numpy.busday_count's docstring; the last from counting 2026's weekdays."""
    assert WorkingCalendar(mask).count(start, until) == days


def test_april_2026_in_new_south_wales_has_19_working_days():
    """The `holidays` library, 0.108 and 0.109: 3, 6 and 27 April are off. Another version may say otherwise."""
    off = public_holidays("AU-NSW", [2026])
    weekdays_off = [day for day in off if day.month == 4 and day.weekday() < 5]
    assert weekdays_off == [date(2026, 4, 3), date(2026, 4, 6), date(2026, 4, 27)]
    assert WorkingCalendar().count(date(2026, 4, 1), date(2026, 5, 1)) == 22
    assert WorkingCalendar(holidays=frozenset(off)).count(date(2026, 4, 1), date(2026, 5, 1)) == 19


def test_a_day_put_in_is_worked_even_on_a_sunday_or_a_holiday():
    sunday, monday = date(2027, 3, 7), date(2027, 3, 8)
    calendar = WorkingCalendar(holidays=frozenset({monday}), extra=frozenset({sunday, monday}))
    assert calendar.count(sunday, monday + timedelta(days=1)) == 2


@pytest.mark.parametrize("mask", ["11111", "0000000", "abcdefg"])
def test_a_week_that_cannot_be_worked_is_refused(mask):
    with pytest.raises(Refused):
        WorkingCalendar(mask)


def test_a_region_that_is_not_known_is_refused_with_an_example():
    with pytest.raises(Refused, match="AU-NSW"):
        public_holidays("XX-YY", [2026])
    assert "AU-NSW" in known_regions()
    assert public_holidays("", [2026]) == {}
