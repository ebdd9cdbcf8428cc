"""The charge agrees to the cent with a plain recomputation that looks at every day in turn."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from jobs.hire.adjust import Period, statement
from tests.jobs.hire.plain import plain_total
from tests.jobs.hire.strategies import FIRST, days, facts


@pytest.mark.slow
@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(facts(), days)
def test_any_hire_costs_what_counting_day_by_day_costs(hire, until):
    bill = statement(hire, Period(FIRST, until), "AUD")
    assert bill.net == plain_total(hire, until)
