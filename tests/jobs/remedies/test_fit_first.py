"""Which pieces stand at the head of the cleaning and the repair queue."""

from __future__ import annotations

from datetime import date

import pytest

from jobs.models import FitFirst, Job
from jobs.selectors.fit_first import wanted_fit_first
from tests.jobs import build

pytestmark = pytest.mark.django_db
FRIDAY, MONDAY = date(2027, 3, 5), date(2027, 3, 8)


def wish(piece, job, by_day, need="clean"):
    return FitFirst.objects.create(piece=piece, job=job, need=need, by_day=by_day, asked_at=build.NOW)


def test_a_dirty_piece_is_wanted_until_it_is_clean():
    [piece] = build.pieces(build.form(3000), 1, build.yard(), dirty=True)
    job = build.job()
    wish(piece, job, FRIDAY)
    assert wanted_fit_first() == {piece.pk: (FRIDAY, job)}
    piece.dirty = False
    piece.save()
    assert wanted_fit_first() == {}


def test_the_soonest_day_counts_where_two_jobs_want_one_piece():
    [piece] = build.pieces(build.form(3000), 1, build.yard(), dirty=True)
    first, second = build.job("J1"), build.job("J2")
    wish(piece, first, MONDAY)
    wish(piece, second, FRIDAY)
    assert wanted_fit_first()[piece.pk].job == second


def test_a_broken_piece_is_wanted_mended_until_it_is_fit_and_then_clean():
    [piece] = build.pieces(build.form(3000), 1, build.yard(), fitness="unfit", dirty=True)
    wish(piece, build.job(), FRIDAY, "mend")
    assert piece.pk in wanted_fit_first()
    piece.fitness = "sound"
    piece.save()
    assert piece.pk in wanted_fit_first()
    piece.dirty = False
    piece.save()
    assert wanted_fit_first() == {}


def test_a_job_that_is_declined_wants_nothing():
    [piece] = build.pieces(build.form(3000), 1, build.yard(), dirty=True)
    job = build.job()
    wish(piece, job, FRIDAY)
    job.stage = Job.Stage.DECLINED
    job.save()
    assert wanted_fit_first() == {}
