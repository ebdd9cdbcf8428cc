"""The planner's page for a check: the proof, the chart with its table, each truck, each pour drawn, the saving."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from django.urls import reverse

from jobs.models import CoverCheck, Delivery, Job, LoadLine
from jobs.selectors.beside import proof_sentences, saving_of
from jobs.selectors.loads import trucks_of
from jobs.selectors.plans import changes_only, load_lines, read_plan, section_levels
from jobs.services.checking import ask_check, solve_check
from jobs.views.charts import step_chart
from tests.jobs import build

pytestmark = pytest.mark.django_db
TODAY = date(2027, 2, 22)


def checked(job) -> CoverCheck:
    check = ask_check(job=job, today=TODAY)
    solve_check(check=check, seconds=None, today=TODAY)
    return check


def job_with_forms(sixes: int, threes: int, **settings) -> Job:
    build.pieces(build.form(6500), sixes, build.yard())
    build.pieces(build.form(3500), threes, build.yard())
    return build.job_with(build.row("A1"), **settings)


def test_the_proof_is_in_words_and_numbers_that_can_be_checked_by_hand():
    """Four runs at once: two of 6 m and two of 3 m; one form of 6.5 m makes one of the long ones, and no two of 3.5 m
    keep to the greatest overrun of 900 mm. They need 2 x 6.5 + 2 x 3.5 = 20 m; 13.5 m is on hand."""
    [sentence] = proof_sentences(checked(job_with_forms(1, 2)))
    assert sentence.startswith("On Thu 4 March 2027, 4 runs need section 150 mm at once; at most 3 can be made")
    assert "20.0 m" in sentence and "13.5 m" in sentence


def test_a_covered_check_needs_no_proof_and_says_what_it_saves():
    check = checked(job_with_forms(2, 2))
    saving = saving_of(check)
    assert proof_sentences(check) == []
    assert saving and (saving.pieces, saving.plain_pieces) == (4, 4)
    assert "nothing to save" in saving.sentence


def test_runs_composed_one_by_one_are_called_short_where_the_plan_is_not():
    """Fewest joints and then least length takes the one form of 6.5 m for both long runs and the one of 3.3 m for
    both short ones: 9.8 m too few. The plan makes a long one of 3.3 and 3.2 m and the short ones of 3.5 m."""
    build.pieces(build.form(3300), 1, build.yard())
    build.pieces(build.form(3200, splayed=0), 1, build.yard())
    saving = saving_of(checked(job_with_forms(1, 2)))
    assert saving and saving.short_mm == 0 < saving.plain_short_mm
    assert "called short by 9.8 m" in saving.sentence


def test_what_others_have_reserved_stands_above_what_is_on_hand():
    job = job_with_forms(4, 2)
    other = build.job("J9", ends_on=date(2027, 6, 30))
    Job.objects.filter(pk=other.pk).update(stage=Job.Stage.ACCEPTED)
    delivery = Delivery.objects.create(job=other, load_on=date(2027, 3, 1))
    LoadLine.objects.create(delivery=delivery, type=build.form(6500), quantity=2)
    levels = section_levels(read_plan(checked(job)))[150]
    assert {(level.on_hand, level.used, level.reserved) for level in levels} == {(20_000, 20_000, 13_000)}
    chart = step_chart(levels, 150, levels[0].day, "least to spare")
    assert 'class="reserved"' in chart and "least to spare: 4 Mar" in chart and 'class="lack"' not in chart
    assert 'text-anchor="start">least to spare' in chart
    last = step_chart([*levels, replace(levels[0], day=date(2027, 4, 4))], 150, date(2027, 4, 4), "least to spare")
    assert 'text-anchor="end">least to spare' in last
    assert len(changes_only(levels)) == 1


def test_the_load_list_stands_truck_by_truck_before_the_job_is_accepted():
    check = checked(job_with_forms(2, 2))
    [truck] = trucks_of(read_plan(check), check.job, TODAY)
    assert (truck.load_on, truck.is_return) == (date(2027, 3, 3), False)
    assert {kind.code: count for kind, count in truck.lines} == {"E150-6500-1": 2, "E150-3500-1": 2}


def test_the_page_shows_all_of_it_and_each_pour_has_its_own(client_as):
    check = checked(job_with_forms(1, 2))
    planner = client_as("planner")
    page = planner.get(reverse("check", args=[check.pk])).content.decode()
    for words in ("Stock against need", "Why it is short", "What would make it fit", "Load list, truck by truck"):
        assert words in page
    assert page.index("Short of 1 x") < page.index("Stock against need") < page.index("Why it is short")
    assert "Panel A1 in plan" in page and "Reserved by others" in page
    pour = check.job.pours.get().name
    drawn = planner.get(reverse("check-pour", args=[check.pk, pour])).content.decode()
    assert "Panel A1 in plan" in drawn and "4 runs on 1 panel" in drawn
    assert planner.get(reverse("check-pour", args=[check.pk, "no such pour"])).status_code == 404


def test_a_job_with_many_panels_draws_each_pour_on_its_own_page(client_as):
    build.pieces(build.form(6500), 60, build.yard())
    build.pieces(build.form(3500), 60, build.yard())
    check = checked(build.job_with(*(build.row(f"A{n}") for n in range(25))))
    page = client_as("planner").get(reverse("check", args=[check.pk])).content.decode()
    assert "drawn on a page of its own" in page and "in plan" not in page


def told(**reason):
    """The proof of one reason, in words; what it is checked against is worked out by hand beside it."""
    why = [{"section_mm": 150, "day": "2027-03-04", "wanted": 2, "can_make": 1, **reason}]
    return proof_sentences(CoverCheck(beside={"why": why}, request={"pieces": []}, answer={"short": []}))


def test_metres_enough_that_make_no_runs_are_not_said_to_be_too_few():
    """Three forms of 4 m are 12 m, as two runs of 6 m need; but each run takes two of them."""
    assert told(wanted_mm=12000, on_hand_mm=12000) == [
        "On Thu 4 March 2027, 2 runs need section 150 mm at once; at most 1 can be made, whatever way the lengths are "
        "joined. In metres there is enough, 12.0 m on hand for 12.0 m; but too few of its lengths make these runs."
    ]
    assert "8.0 m is on hand" in told(wanted_mm=12000, on_hand_mm=8000)[0]


def test_a_lack_that_no_day_shows_is_explained_all_the_same():
    piece = {"code": "X", "section_mm": 150}
    for bound, words in ((3000, "has proved that no choice of whole pieces"), (0, "a longer search may find")):
        answer = {"short": [{"code": "X", "count": 1}], "short_mm": 3000, "short_bound_mm": bound}
        (sentence,) = proof_sentences(CoverCheck(beside={"why": []}, request={"pieces": [piece]}, answer=answer))
        assert words in sentence


def test_a_type_short_on_several_days_says_how_many_lack_on_each():
    """Three pours whose days overlap and forms for one: what lacks on each day, counted here from its runs alone."""
    build.pieces(build.form(6500), 6, build.yard())
    build.pieces(build.form(3500), 2, build.yard())
    days = {"P1": "2027-03-05", "P2": "2027-03-08", "P3": "2027-03-09"}
    rows = [build.row(f"{pour}a", pour=pour, pour_date=day) for pour, day in days.items()]
    plan = read_plan(checked(build.job_with(*rows)))
    (line,) = [line for line in load_lines(plan) if line.short]
    held = [(run.start, run.until) for run in plan.request.runs if "E150-3500-1" in plan.pieces[str(run.side)]]
    expected = [max(0, sum(a <= day < b for a, b in held) - 2) for day in (date(2027, 3, n) for n in range(1, 20))]
    told = [next((n for since, n in reversed(line.lacks) if since <= date(2027, 3, d)), 0) for d in range(1, 20)]
    assert told == expected and max(told) == line.short and line.lacks[-1][1] == 0
    assert len({n for n in told if n}) > 1
