"""Jobs planned together from their pages: what another gives up, what is written, and plates that nobody has."""

from __future__ import annotations

from datetime import date

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Person
from jobs.models import Job
from jobs.planning.limits import Limits
from jobs.planning.remedies.more_words import replan_words
from jobs.planning.remedies.replan import replan
from jobs.selectors.remedies import build_question
from jobs.services.accepting import accept_job
from jobs.services.applying import apply_remedy
from jobs.services.loading import open_delivery_docket
from jobs.services.replanning import replan_job, with_articles
from tests.jobs import build
from tests.jobs.remedies.test_remedy_search import TODAY, checked, found, searched

# What is found hangs on the plan; what it is read from and written to is tested on either database beside it.
pytestmark = [pytest.mark.django_db, pytest.mark.one_database]


def two_jobs_for_one_long_form(**settings):
    """J9 is accepted with the two long forms; two of 3.2 and 3.3 m lie idle, which would make its runs too."""
    long = build.form(6500)
    build.pieces(long, 2, build.yard())
    build.pieces(build.form(3500), 4, build.yard())
    build.pieces(build.form(3200), 2, build.yard())
    build.pieces(build.form(3300, splayed=0), 2, build.yard())
    other = build.job_with(build.row("A1"), code="J9")
    accept_job(check=checked(other), today=TODAY)
    assert other.deliveries.get().lines.get(type=long).quantity == 2
    return build.job_with(build.row("A1"), code="J1", max_pieces_per_run=1, **settings), other, long


def joint_plan(job):
    """The joint plan of a job that is short, alone of all remedies, counted with its articles."""
    check = checked(job)
    question = build_question(check, TODAY)
    remedy = replan_words(replan(question.together, Limits()), len(question.together.others))
    return with_articles(remedy, check, question.timeline, TODAY, timezone.now())


def write(remedy):
    for line in remedy.lines:
        other = Job.objects.get(code=line["job"])
        replan_job(job=other, line=line, by=None, today=TODAY, now=timezone.now())


def test_planned_together_another_job_gives_up_what_this_one_needs(client_as):
    job, other, long = two_jobs_for_one_long_form()
    search = searched(job)
    remedy = found(search, "replan")
    assert remedy["turns"] and remedy["lines"][0]["job"] == "J9"
    assert remedy["lines"][0]["changes"][long.code] == {"now": [2], "then": [0]}
    page = client_as("planner").get(reverse("remedy", args=[search.pk, "replan"])).content.decode()
    assert "Nothing is changed before the press" in page and long.code in page
    assert other.deliveries.get().lines.filter(type=long).exists()
    apply_remedy(search=search, name="replan", today=TODAY)
    lines = dict(other.deliveries.get().lines.filter(type__kind="edge form").values_list("type__code", "quantity"))
    assert long.code not in lines and lines["E150-3200-1"] == 2 and lines["E150-3300-0"] == 2
    assert checked(job).covered


def test_a_joint_plan_that_wants_plates_nobody_has_does_not_turn_the_answer(client_as):
    """J9's two long sides get a joint each, and a plate to each joint: none are there, then two."""
    plate = build.article("plate", "splice plate")
    job, _, _ = two_jobs_for_one_long_form()
    remedy = joint_plan(job)
    assert not remedy.turns and "J9 2 x plate" in remedy.sentence
    build.pieces(plate, 2, build.yard())
    search = searched(job)
    assert found(search, "replan")["turns"]
    page = client_as("planner").get(reverse("remedy", args=[search.pk, "replan"])).content.decode()
    assert "Beside the edge forms" in page and "plate" in page


def test_two_jobs_planned_anew_do_not_count_on_the_same_plates():
    """Each gets two joints, for which two plates are there: enough for either, not for both."""
    plate = build.article("plate", "splice plate")
    build.pieces(plate, 2, build.yard())
    for kind in (build.form(6500), build.form(3200), build.form(3300, splayed=0)):
        build.pieces(kind, 4, build.yard())
    build.pieces(build.form(3500), 8, build.yard())
    for code in ("J8", "J9"):
        accept_job(check=checked(build.job_with(build.row("A1"), code=code)), today=TODAY)
    job = build.job_with(build.row("A1"), build.row("A2"), code="J1", max_pieces_per_run=1)
    remedy = joint_plan(job)
    lacking = "J8 2 x plate from Thu 4 March 2027, J9 2 x plate from Thu 4 March 2027"
    assert not remedy.turns and lacking in remedy.sentence
    build.pieces(plate, 2, build.yard())
    remedy = joint_plan(job)
    assert remedy.turns and len(remedy.lines) == 2
    write(remedy)
    accept_job(check=checked(job), today=TODAY)
    assert all(checked(each).covered for each in Job.objects.all())


def test_plates_that_another_job_gives_up_are_counted_for_this_one():
    """J9's long sides are of two pieces each and hold the only two plates; of 6.5 m in one they need none. J1's can be
    made of those pieces alone (6.4 to 6.46 m), with a plate each."""
    build.pieces(build.article("plate", "splice plate"), 2, build.yard())
    for kind, count in ((build.form(3200), 2), (build.form(3250, splayed=0), 2), (build.form(3500), 8)):
        build.pieces(kind, count, build.yard())
    accept_job(check=checked(other := build.job_with(build.row("A1"), code="J9")), today=TODAY)
    build.pieces(build.form(6500), 2, build.yard())
    job = build.job_with(build.row("A1", width=6400, height=3450), code="J1", max_overrun_mm=60)
    remedy = joint_plan(job)
    assert remedy.turns and {"now": 2, "then": 0}.items() <= remedy.lines[0]["articles"][0].items()
    write(remedy)
    assert checked(job).covered and checked(other).covered


def test_jobs_planned_anew_may_have_the_same_plates_one_after_the_other():
    """J8's gear is back long before J9's is loaded: two plates do for the two joints that each of them gets."""
    build.pieces(build.article("plate", "splice plate"), 2, build.yard())
    for kind in (build.form(6500), build.form(3200), build.form(3300, splayed=0)):
        build.pieces(kind, 2, build.yard())
    build.pieces(build.form(3500), 4, build.yard())
    march, may = {"pour_date": "2027-03-05"}, {"pour_date": "2027-05-07"}
    for code, days, starts in (("J8", march, date(2027, 3, 1)), ("J9", may, date(2027, 5, 3))):
        accept_job(check=checked(build.job_with(build.row("A1", **days), code=code, starts_on=starts)), today=TODAY)
    rows = build.row("A1", **march), build.row("B1", **may)
    job = build.job_with(*rows, code="J1", max_pieces_per_run=1)
    remedy = joint_plan(job)
    assert remedy.turns and {line["job"] for line in remedy.lines} == {"J8", "J9"}
    write(remedy)
    assert all(checked(each).covered for each in Job.objects.all())


def test_a_job_that_has_a_docket_is_left_alone():
    job, other, _ = two_jobs_for_one_long_form()
    open_delivery_docket(delivery=other.deliveries.get(), by=Person.objects.get_or_create(name="Planner")[0])
    assert not any(each["name"] == "replan" for each in searched(job).answer["remedies"])
