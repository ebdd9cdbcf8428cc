"""The search behind the cover check: its bound against the whole program, its plans, and the same answer twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from jobs.planning.answer import PROVED_GAP
from jobs.planning.checker import check_answer
from jobs.planning.cover import check, sections_of
from jobs.planning.dive import Dive, Manner
from jobs.planning.least_cost import cost_of_days
from jobs.planning.limits import Limits
from jobs.planning.linear import linear_of, scope_of
from jobs.planning.outward import Outward, Way
from jobs.planning.program import Program, program_of, quiet_highs
from jobs.planning.relax import Relaxation, likely, relaxed
from jobs.planning.request import CoverRequest
from jobs.planning.search import SectionSearch
from jobs.planning.trials import Trial, trial_request
from jobs.planning.turns import Turn

TRIALS = [Trial(6, 1), Trial(6, 2, 0.8, moving=True), Trial(6, 3, 0.6, moving=True)]


def program_for(trial: Trial) -> Program:
    return program_of(next(iter(sections_of(trial_request(trial)))))


def whole_value(program: Program, most_short: int | None, *, short: bool) -> float:
    """The relaxation over every choice at once, as HiGHS' simplex method solves it."""
    linear = linear_of(program, scope_of(program, np.arange(program.picks), most_short, short=short))
    highs = quiet_highs()
    highs.passModel(linear.model)
    highs.run()
    return highs.getInfo().objective_function_value


def bounds_of(program: Program) -> tuple[Relaxation, Relaxation, int]:
    """The relaxations of least shortage and of least cost, and the cap on shortage of the second."""
    short = relaxed(program, likely(program), None, Limits(), short=True)
    assert short is not None
    cap = int(np.ceil(short.bound / 100 - 1e-6)) * 100
    cost = relaxed(program, short.near, cap, Limits(), short=False)
    assert cost is not None
    return short, cost, cap


@pytest.mark.parametrize("trial", TRIALS)
def test_a_bound_from_few_choices_is_that_of_all_of_them(trial: Trial):
    program = program_for(trial)
    short, cost, cap = bounds_of(program)
    assert short.bound == pytest.approx(whole_value(program, None, short=True), rel=1e-5, abs=0.1)
    assert cost.bound == pytest.approx(whole_value(program, cap, short=False), rel=1e-5)


@pytest.mark.parametrize("trial", TRIALS)
def test_a_choice_costs_no_less_than_its_reduced_cost_beyond_the_bound(trial: Trial):
    """What lets choices be left out: taking one makes the relaxation rise by at least its reduced cost."""
    program = program_for(trial)
    _, cost, cap = bounds_of(program)
    for column in np.argsort(-cost.reduced)[:3]:
        linear = linear_of(program, scope_of(program, np.arange(program.picks), cap))
        highs = quiet_highs()
        highs.passModel(linear.model)
        highs.changeColBounds(int(column), 1.0, 1e6)
        highs.run()
        value = highs.getInfo().objective_function_value
        assert highs.getModelStatus().name == "kInfeasible" or value >= cost.bound + cost.reduced[column] - 1.0


@pytest.mark.parametrize("trial", TRIALS)
def test_dives_and_plans_made_outward_make_every_run(trial: Trial):
    program = program_for(trial)
    _, cost, cap = bounds_of(program)
    dived = Dive(program, np.arange(program.picks), cap, Limits()).plan(Manner())
    outward = [Outward(program, cost, cap, Limits(), 1.001 * cost.bound, way).plan() for way in (Way(), Way(60, 1))]
    for picks in (dived, *outward):
        assert picks is not None
        assert np.array_equal(np.bincount(program.group, picks, len(program.runs)), program.runs)


def test_a_dive_gives_nothing_dearer_than_asked_for():
    program = program_for(TRIALS[0])
    _, cost, cap = bounds_of(program)
    assert Dive(program, np.arange(program.picks), cap, Limits()).plan(Manner(most=cost.bound - 1)) is None


@pytest.mark.parametrize("trial", TRIALS)
def test_whole_numbers_on_some_days_prove_no_less_than_none_and_no_more_than_all(trial: Trial):
    program, answer = program_for(trial), check(trial_request(trial))
    _, cost, _ = bounds_of(program)
    for days in (2, program.days):
        bound = cost_of_days(program, cost, answer.short_mm, days, float("inf"), Limits())
        assert cost.bound <= bound <= max(answer.cost_mm, cost.bound) + 1e-3


@pytest.mark.parametrize("trial", TRIALS)
def test_a_bound_asked_for_a_little_at_a_time_never_passes_what_a_plan_costs(trial: Trial):
    program, answer = program_for(trial), check(trial_request(trial))
    _, cost, _ = bounds_of(program)
    bound = cost.bound
    for _ in range(40):
        enough = 1.001 * bound
        lifted = cost_of_days(program, cost, answer.short_mm, program.days, enough, Limits())
        assert cost.bound <= lifted <= max(answer.cost_mm, cost.bound) + 1e-3
        if lifted < enough - 1.0:
            break
        bound = lifted


@pytest.mark.parametrize("trial", TRIALS)
def test_one_turn_at_a_time_comes_to_the_same_as_all_at_once(trial: Trial):
    section = next(iter(sections_of(trial_request(trial))))
    whole, parts = (SectionSearch(section, Limits()) for _ in range(2))
    whole.best()
    while parts.more and not parts.good:
        parts.best(turns=1)
    assert (parts.plan.short, parts.plan.cost, parts.plan.cost_bound) == (
        whole.plan.short,
        whole.plan.cost,
        whole.plan.cost_bound,
    )


def test_dives_for_a_shorter_list_are_each_shuffled_otherwise_until_no_more_lacks_than_is_proved(
    monkeypatch: pytest.MonkeyPatch,
):
    search = SectionSearch(next(iter(sections_of(trial_request(Trial(10, 3, 0.6, moving=True))))), Limits())
    search.lacking = search._bound_short()
    search.standing.found = True
    search.spare = lambda: -1e6  # Whatever it costs is too much, so that there is something left to look for.
    assert search.plan.short > search.plan.short_bound
    manners: list[Manner] = []
    dive = Dive.plan
    # The first dive finds nothing.
    monkeypatch.setattr(
        Dive, "plan", lambda self, how: manners.append(how) or (dive(self, how) if manners[1:] else None)
    )
    search._take(Turn(shorter=True))
    assert len({how.shuffle for how in manners} - {0}) == len(manners) == 2
    assert search.plan.short == search.plan.short_bound
    search._take(Turn(shorter=True))
    assert len(manners) == 2


@pytest.mark.parametrize("trial", TRIALS)
def test_what_was_stirred_is_worth_the_same_once_calmed(trial: Trial):
    program = program_for(trial)
    _, _, cap = bounds_of(program)
    dive = Dive(program, np.arange(program.picks), cap, Limits())
    before = dive.relaxed()
    dive.stirred(1, 50.0, 100.0)
    stirred = dive.relaxed()
    assert before is not None and stirred is not None
    assert stirred != pytest.approx(before, abs=1.0)
    assert dive.calmed() == pytest.approx(before, rel=1e-6)


@pytest.mark.parametrize("trial", TRIALS)
def test_proved_means_least_shortage_and_a_gap_of_a_thousandth(trial: Trial):
    answer = check(trial_request(trial))
    assert answer.gap == (answer.cost_mm - (answer.cost_bound_mm or 0)) / answer.cost_mm
    assert answer.proved == (answer.short_mm == answer.short_bound_mm and answer.gap <= PROVED_GAP)


def test_two_sections_side_by_side_stopped_by_work_limits_give_the_same_answer():
    request = trial_request(Trial(6, 7, 0.8, sections=(150, 175)))
    first, second = check(request), check(request)
    assert check_answer(request, first) == []
    assert replace(first, seconds=0) == replace(second, seconds=0)


def test_sections_share_nothing_so_the_whole_is_their_sum():
    request = trial_request(Trial(6, 7, 0.8, sections=(150, 175)))
    parts = [
        check(replace(request, runs=tuple(run for run in request.runs if run.section_mm == section)))
        for section in (150, 175)
    ]
    whole = check(request)
    assert whole.short_mm == sum(part.short_mm for part in parts)
    assert whole.cost_bound_mm == sum(part.cost_bound_mm or 0 for part in parts)


def test_stopped_by_the_clock_it_gives_a_sound_plan_with_an_honest_gap():
    request: CoverRequest = trial_request(Trial(60, 6, 0.6, moving=True))
    answer = check(request, seconds=timedelta(milliseconds=300).total_seconds())
    assert check_answer(request, answer) == []
    assert len(answer.runs) == len(request.runs)
    assert answer.short_bound_mm <= answer.short_mm
