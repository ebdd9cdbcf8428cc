"""A cover check as a planner watches it: asked, its progress seen, stopped, asked again, and read when it is done."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.services.work import WorkCancelled, beat, begin, cancelled
from jobs.models import CoverCheck
from jobs.services.checking import solve_check
from jobs.services.remedying import ask_remedies, solve_remedies
from tests.jobs import build


@pytest.fixture
def job(transactional_db):
    """Short of one long form, which lies dirty in the yard and would be clean too late."""
    long = build.form(6500)
    build.pieces(long, 1, build.yard())
    build.pieces(long, 1, build.yard(), dirty=True)
    build.pieces(build.form(3500), 2, build.yard())
    today = timezone.localdate()
    made = build.job_with(build.row("A1"), starts_on=today, turnround_days=60)
    made.pours.update(cast_on=build.later(today, 12))
    return made


@pytest.mark.slow
def test_a_check_is_watched_stopped_asked_again_and_read(job, page_as):
    page = page_as("planner")
    page.clock.install()  # the page asks again every two seconds: the test lets them pass at once
    page.goto(reverse("job", args=[job.pk]))
    page.get_by_role("button", name="Check the stock").click()
    page.get_by_text("for a worker").wait_for()

    first = CoverCheck.objects.get()
    assert begin(first)
    beat(first, 40, "Composing runs")
    page.clock.fast_forward(2000)
    page.get_by_text("Composing runs, 40 per cent").wait_for()
    page.get_by_role("button", name="Stop it").click()
    page.get_by_text("is asked to stop").wait_for()
    with pytest.raises(WorkCancelled):
        beat(first, 50, "Composing runs")
    cancelled(first)
    page.clock.fast_forward(2000)
    page.get_by_role("button", name="Check again").click()

    page.get_by_text("for a worker").wait_for()
    second = CoverCheck.objects.exclude(pk=first.pk).get()
    solve_check(check=second, seconds=None)
    page.clock.fast_forward(2000)
    page.get_by_role("heading", name="Stock against need").wait_for()
    assert page.get_by_text("Short of 1 x E150-6500-1").count() == 1
    assert page.get_by_role("heading", name="Why it is short").count() == 1

    search = ask_remedies(check=second)
    page.reload()
    page.get_by_role("button", name="Stop looking").wait_for()
    solve_remedies(search=search, seconds=None)
    page.clock.fast_forward(2000)
    page.get_by_role("button", name="Put them first in the queues").click()
    page.get_by_text("put first in the cleaning and repair queues").wait_for()
    assert job.wants_fit.count() == 1
