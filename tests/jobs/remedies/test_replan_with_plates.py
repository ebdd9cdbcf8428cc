"""Jobs planned together where plates are short: counted over time, said plainly, and fewer joints preferred."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from django.urls import reverse

from jobs.planning.remedies.question import Remedy
from jobs.services import remedying
from jobs.services.accepting import accept_job
from jobs.services.applying import apply_remedy
from tests.jobs import build
from tests.jobs.remedies.test_planned_together import joint_plan, two_jobs_for_one_long_form
from tests.jobs.remedies.test_remedy_search import TODAY, checked, found, searched

# What is found hangs on the plan; what it is read from and written to is tested on either database beside it.
pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


def test_plates_that_lack_only_once_two_pours_stand_are_said_from_that_day():
    """J9's second pour is set on Mon 8 March while its first still stands: two plates do until then."""
    build.pieces(build.article("plate", "splice plate"), 2, build.yard())
    for kind in (build.form(6500), build.form(3200), build.form(3300, splayed=0)):
        build.pieces(kind, 4, build.yard())
    build.pieces(build.form(3500), 8, build.yard())
    rows = build.row("A1", pour="P1", pour_date="2027-03-05"), build.row("B1", pour="P2", pour_date="2027-03-09")
    accept_job(check=checked(build.job_with(*rows, code="J9", cycle_days=5)), today=TODAY)
    late = [build.row(mark, pour="P1", pour_date="2027-03-09") for mark in ("A1", "A2")]
    job = build.job_with(*late, code="J1", max_pieces_per_run=1, starts_on=date(2027, 3, 8))
    remedy = joint_plan(job)
    assert not remedy.turns and "J9 2 x plate from Mon 8 March 2027" in remedy.sentence


def test_the_load_lists_that_change_least_are_kept_where_fewer_joints_in_them_will_do(monkeypatch):
    """Only if they do not are other load lists looked for."""
    job, _, _ = two_jobs_for_one_long_form()

    def enough_with_fewer_joints(remedy, *_):
        return remedy if remedy.sure == "fewer" else replace(remedy, turns=False, sure="least")

    def fewer(*_):
        return Remedy("replan", True, True, "", "fewer")

    monkeypatch.setattr(remedying, "with_articles", enough_with_fewer_joints)
    monkeypatch.setattr(remedying, "with_fewer_joints", fewer)
    monkeypatch.setattr(remedying, "with_other_load_lists", lambda *_: pytest.fail("not to be looked for"))
    assert found(searched(job), "replan")["sure"] == "fewer"


def test_where_plates_are_short_other_load_lists_with_fewer_joints_are_found(client_as):
    """In place of its two forms of 6.5 m J9 may have shorter ones that change its load list less, but without plates
    for their joints; or two of 6.9 m, which are too long for J1."""
    build.article("plate", "splice plate")
    job, other, long = two_jobs_for_one_long_form(max_overrun_mm=600)
    longer = build.form(6900)
    build.pieces(longer, 2, build.yard())
    assert "J9 2 x plate from Thu 4 March 2027" in joint_plan(job).sentence
    search = searched(job)
    remedy = found(search, "replan")
    assert remedy["turns"] and "this one has the fewest joints" in remedy["sure"]
    assert remedy["lines"][0]["changes"] == {
        long.code: {"now": [2], "then": [0]},
        longer.code: {"now": [0], "then": [2]},
    }
    page = client_as("planner").get(reverse("remedy", args=[search.pk, "replan"])).content.decode()
    assert "this one has the fewest joints" in page
    apply_remedy(search=search, name="replan", today=TODAY)
    assert checked(job).covered and checked(other).covered


def test_what_lacks_is_said_on_the_page_of_the_check(client_as):
    build.article("plate", "splice plate")
    job, _, _ = two_jobs_for_one_long_form()
    search = searched(job)
    remedy = found(search, "replan")
    assert not remedy["turns"] and "the edge forms fit, but" in remedy["sentence"]
    page = client_as("planner").get(reverse("check", args=[search.check_asked_id])).content.decode()
    assert "J9 2 x plate from Thu 4 March 2027" in page
