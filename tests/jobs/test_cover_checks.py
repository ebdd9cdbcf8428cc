"""A cover check from the question to the reservation, and what the next job's check then sees."""

from __future__ import annotations

from datetime import date

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import CountedStock, Person
from inventory.services.work import ask_to_cancel
from jobs.errors import Refused
from jobs.models import CoverCheck, Job, LoadLine, PlannedRun, TakeOffRule
from jobs.planning.checker import check_answer
from jobs.planning.cover import check as check_cover
from jobs.planning.request_json import parse_request
from jobs.selectors.cover import build_request, is_stale, request_as_json
from jobs.selectors.planned import lengths_planned
from jobs.selectors.plans import read_plan, section_levels
from jobs.selectors.stock import stock_for
from jobs.selectors.verdict import verdict_of
from jobs.services.accepting import accept_job, decline_job
from jobs.services.checking import ask_check, solve_check
from jobs.services.loading import open_delivery_docket
from tests.jobs import build

pytestmark = pytest.mark.django_db
TODAY = date(2027, 2, 22)


def stocked(sixes: int, threes: int):
    long, short = build.form(6500), build.form(3500)
    build.pieces(long, sixes, build.yard())
    build.pieces(short, threes, build.yard())
    return long, short


def answered(job) -> CoverCheck:
    check = ask_check(job=job, today=TODAY)
    solve_check(check=check, seconds=None, today=TODAY)
    check.refresh_from_db()
    return check


def test_one_panel_is_covered_by_one_form_a_side():
    stocked(2, 2)
    check = answered(build.job_with(build.row("A1")))
    assert check.state == CoverCheck.State.ANSWERED and check.covered
    assert {load["code"]: load["count"] for load in check.answer["load"]} == {"E150-6500-1": 2, "E150-3500-1": 2}
    assert verdict_of(read_plan(check)).covered


def test_one_form_too_few_is_short_and_says_from_which_day():
    """The pour is cast on Fri 5 March, so its forms are set on Thu 4 March."""
    stocked(2, 1)
    check = answered(build.job_with(build.row("A1")))
    verdict = verdict_of(read_plan(check))
    assert not check.covered and verdict.decides == date(2027, 3, 4)
    assert "1 x E150-3500-1" in verdict.sentence and "Proved" in verdict.sure


def test_the_same_forms_serve_two_pours_that_do_not_overlap():
    """Set Thu 4, cast Fri 5, stripped Mon 8, free Tue 9; the next pour is set on Tue 9."""
    stocked(2, 2)
    rows = [build.row("A1", pour="P1"), build.row("B1", pour="P2") | {"pour date": "2027-03-10"}]
    assert answered(build.job_with(*rows)).covered


def test_two_pours_that_overlap_by_a_day_need_twice_the_forms():
    stocked(2, 2)
    rows = [build.row("A1", pour="P1"), build.row("B1", pour="P2") | {"pour date": "2027-03-09"}]
    assert not answered(build.job_with(*rows)).covered


def test_the_question_keeps_to_the_published_schema_and_reads_back():
    stocked(3, 2)
    request = build_request(
        build.job_with(build.row("A1"), build.row("L", "", "", outline="6000 2000 3000@-90 1000o 3000s 3000")), TODAY
    )
    assert parse_request(request_as_json(request)) == request


def test_the_answer_stored_passes_the_independent_checker():
    stocked(4, 3)
    job = build.job_with(build.row("A1"), build.row("B1", pour_date="2027-03-09"))
    request = build_request(job, TODAY)
    assert check_answer(request, check_cover(request)) == []


def test_an_answer_is_stale_once_the_stock_or_the_panels_change():
    long, _ = stocked(2, 2)
    job = build.job_with(build.row("A1"))
    check = answered(job)
    assert not is_stale(check, TODAY)
    build.pieces(long, 1, build.yard())
    assert is_stale(check, TODAY)


def test_a_job_with_nothing_to_cast_is_refused_in_words():
    with pytest.raises(Refused) as refused:
        ask_check(job=build.job(), today=TODAY)
    assert refused.value.code == "nothing-to-check"


def test_asking_twice_while_it_waits_is_one_check():
    stocked(2, 2)
    job = build.job_with(build.row("A1"))
    assert ask_check(job=job, today=TODAY) == ask_check(job=job, today=TODAY)


def test_a_check_asked_to_stop_has_no_answer():
    stocked(2, 2)
    check = ask_check(job=build.job_with(build.row("A1")), today=TODAY)
    ask_to_cancel(check)
    solve_check(check=check, today=TODAY)
    check.refresh_from_db()
    assert check.state == CoverCheck.State.CANCELLED and check.answer is None


def test_accepting_reserves_and_the_next_check_sees_it():
    long, _ = stocked(2, 2)
    first, second = build.job_with(build.row("A1"), code="J1"), build.job_with(build.row("A1"), code="J2")
    before = answered(second)
    assert before.covered
    accept_job(check=answered(first), today=TODAY)
    assert is_stale(before, TODAY)
    assert not answered(second).covered
    span = (date(2027, 3, 4), date(2027, 3, 9))
    assert stock_for(second, [long.code], span, TODAY)[long.code] == ((date(2027, 3, 4), 0),)


def test_declining_an_accepted_job_frees_its_gear():
    stocked(2, 2)
    first, second = build.job_with(build.row("A1"), code="J1"), build.job_with(build.row("A1"), code="J2")
    accept_job(check=answered(first), today=TODAY)
    decline_job(job=first)
    assert answered(second).covered


def test_accepting_keeps_the_runs_and_loads_the_forms_a_working_day_before_they_are_set():
    stocked(2, 2)
    job = build.job_with(build.row("A1"))
    accept_job(check=answered(job), today=TODAY)
    job.refresh_from_db()
    assert job.stage == Job.Stage.ACCEPTED
    delivery = job.deliveries.get()
    assert delivery.load_on == date(2027, 3, 3)
    assert PlannedRun.objects.count() == 4 and lengths_planned(job)["A1/1"] == [6500]
    lines = LoadLine.objects.filter(delivery=delivery, type__kind="edge form")
    assert dict(lines.values_list("type__code", "quantity")) == {"E150-6500-1": 2, "E150-3500-1": 2}


def test_the_load_list_holds_what_the_rules_count_with_spares():
    """Four corners, two stud bolts a clamp; one a bracket; five per cent spare, rounded up."""
    stocked(2, 2)
    stud, clamp = build.article("stud bolt", "bolt"), build.article("clamp", "corner clamp")
    build.pieces(clamp, 4, build.yard())
    CountedStock.objects.create(type=stud, place=build.yard(), quantity=100)
    job = build.job_with(build.row("A1"))
    accept_job(check=answered(job), today=TODAY)
    lines = dict(job.deliveries.get().lines.values_list("type", "quantity"))
    brackets = 2 * 6 + 2 * 3
    assert lines[clamp.pk] == 4
    assert lines[stud.pk] == -(-(brackets + 2 * 4) * 105 // 100)


def test_an_article_with_no_one_type_is_left_for_the_manager_to_choose():
    stocked(2, 2)
    build.article("clamp a", "corner clamp"), build.article("clamp b", "corner clamp")
    job = build.job_with(build.row("A1"))
    accept_job(check=answered(job), today=TODAY)
    assert not LoadLine.objects.filter(type__kind="corner clamp").exists()
    assert TakeOffRule.objects.filter(what="corner clamp", type=None).exists()


def test_a_short_job_is_accepted_only_with_a_reason_that_stays():
    stocked(2, 1)
    job = build.job_with(build.row("A1"))
    check = answered(job)
    with pytest.raises(Refused) as refused:
        accept_job(check=check, today=TODAY)
    assert refused.value.code == "short"
    accept_job(check=check, though_short="one is hired in", today=TODAY)
    job.refresh_from_db()
    assert "one is hired in" in job.note


def test_a_stale_answer_cannot_be_accepted():
    long, _ = stocked(2, 2)
    check = answered(build.job_with(build.row("A1")))
    build.pieces(long, 1, build.yard())
    with pytest.raises(Refused) as refused:
        accept_job(check=check, today=TODAY)
    assert refused.value.code == "stale"


def test_need_and_stock_add_up_by_section():
    stocked(2, 2)
    levels = section_levels(read_plan(answered(build.job_with(build.row("A1")))))[150]
    assert {(level.used, level.on_hand) for level in levels} == {(20_000, 20_000)}


def test_a_delivery_opens_a_docket_with_its_lines_wanted():
    stocked(2, 2)
    job = build.job_with(build.row("A1"))
    accept_job(check=answered(job), today=TODAY)
    docket = open_delivery_docket(delivery=job.deliveries.get(), by=Person.objects.get_or_create(name="Planner")[0])
    assert (docket.from_place, docket.to_place) == (job.yard, job.site)
    assert sum(docket.lines.values_list("wanted", flat=True)) == 4
    with pytest.raises(Refused):
        open_delivery_docket(delivery=job.deliveries.get(), by=Person.objects.get_or_create(name="Planner")[0])


def test_a_side_that_no_lengths_fit_is_left_out_and_said(client_as):
    """A closed run of 3.2 m between two solid sides: no sum of 6.5 and 3.5 m fits it."""
    stocked(2, 2)
    job = build.job_with(build.row("A1", "", "", outline="3200 2000s 3200 2000s"), build.row("B1"))
    request = build_request(job, TODAY)
    assert {str(run.side) for run in request.runs} == {"B1/1", "B1/2", "B1/3", "B1/4"}
    page = client_as("planner").get(reverse("job", args=[job.pk])).content.decode()
    assert "made up on site" in page


def test_the_page_says_the_verdict_first_and_takes_the_decision(client_as, monkeypatch):
    monkeypatch.setattr(timezone, "localdate", lambda *_: TODAY)
    planner = client_as("planner")
    stocked(2, 2)
    job = build.job_with(build.row("A1"))
    page = planner.post(reverse("job-check", args=[job.pk]), follow=True)
    check = job.checks.get()
    assert "being worked out" in page.content.decode()
    solve_check(check=check, seconds=None, today=TODAY)
    page = planner.get(reverse("check", args=[check.pk])).content.decode()
    assert "Covered: 4 pieces" in page and "<svg" in page and "E150-6500-1" in page
    planner.post(reverse("check-accept", args=[check.pk]))
    job.refresh_from_db()
    assert job.stage == Job.Stage.ACCEPTED
    assert "Open its docket" in planner.get(reverse("job", args=[job.pk])).content.decode()
    assert "Decline it after all" in planner.get(reverse("job", args=[job.pk])).content.decode()
    planner.post(reverse("job-decline", args=[job.pk]))
    assert not job.deliveries.exists()


def test_the_working_part_reloads_the_page_once_it_is_over(client_as):
    planner = client_as("planner")
    stocked(2, 2)
    check = ask_check(job=build.job_with(build.row("A1")), today=TODAY)
    url = reverse("check-part", args=[check.pk])
    polled = {"HX-Request": "true"}
    assert b"hx-get" in planner.get(url, headers=polled).content
    solve_check(check=check, seconds=None, today=TODAY)
    assert planner.get(url, headers=polled)["HX-Refresh"] == "true"
    assert planner.get(url).url == reverse("check", args=[check.pk])


def test_the_page_of_a_job_fetches_whether_its_answer_still_stands(client_as):
    """Asked today of a pour to come; a form that turns up changes what is on hand."""
    today, planner = timezone.localdate(), client_as("planner")
    stocked(2, 2)
    job = build.job_with(build.row("A1"), starts_on=today)
    job.pours.update(cast_on=build.later(today, 12))
    check = ask_check(job=job, today=today)
    solve_check(check=check, seconds=None, today=today)
    url = reverse("check-still", args=[check.pk])
    assert url in planner.get(reverse("job", args=[job.pk])).content.decode()
    assert "stale" not in planner.get(url, headers={"HX-Request": "true"}).content.decode()
    stocked(1, 0)
    assert "stale" in planner.get(url, headers={"HX-Request": "true"}).content.decode()
