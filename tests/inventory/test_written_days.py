"""Days as people write them, read back; against python-dateutil told which number is the day."""

from datetime import date

import pytest
from dateutil import parser
from hypothesis import given
from hypothesis import strategies as st

from inventory.written import NotOneDay, read_day

DAYS = st.dates(date(1990, 1, 1), date(2090, 12, 31))


@given(DAYS, st.sampled_from(["%Y-%m-%d", "%Y-%m-%d 00:00:00", "%d.%m.%Y", "%d. %m. %Y", "%d %b %Y", "%d %B %Y"]))
def test_a_day_is_read_as_it_was_written(day, form):
    said = day.strftime(form)
    assert read_day(f" {said} ") == parser.parse(said, dayfirst="." in form).date() == day


@given(DAYS)
def test_two_numbers_that_could_both_be_the_month_are_never_guessed_at(day):
    said = day.strftime("%d/%m/%Y")
    readings = {parser.parse(said, dayfirst=first).date() for first in (True, False)}
    if len(readings) == 1:
        assert {read_day(said)} == readings
    else:
        with pytest.raises(NotOneDay) as refused:
            read_day(said)
        assert all(each.isoformat() in str(refused.value) for each in readings)


NO_DAYS = ["2026-02-30", "31.4.2026", "32/1/2026", "tomorrow", "26-3-5", "5 Octember 2026", "45291"]


@pytest.mark.parametrize("said", NO_DAYS)
def test_what_is_no_day_is_refused_with_how_to_write_one(said):
    with pytest.raises(NotOneDay, match="write year-month-day"):
        read_day(said)
