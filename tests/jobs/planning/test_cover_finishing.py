"""Dives that end early and have their last runs composed together, and searches in which no part has its own clock."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from jobs.planning import cover, finishing
from jobs.planning.cover import check, sections_of
from jobs.planning.dive import OVER_COST, Dive, Manner
from jobs.planning.finishing import finished
from jobs.planning.limits import Limits
from jobs.planning.program import Program, program_of
from jobs.planning.relax import likely, relaxed
from jobs.planning.rounding import rounded
from jobs.planning.trials import Trial, trial_request
from jobs.planning.windows import Windows

TRIALS = [
    Trial(30, 1, side_by_side=6),
    Trial(30, 2, 0.8, moving=True, side_by_side=6),
    Trial(60, 3, 0.6, side_by_side=7, alike=True),
]


def asked(trial: Trial) -> tuple[Program, int, float]:
    """A program, the cap on its shortage and the bound on its cost."""
    program = program_of(next(iter(sections_of(trial_request(trial)))))
    cap, near = 0, likely(program)
    if program.limiting.any():
        short = relaxed(program, near, None, Limits(), short=True)
        assert short is not None
        cap, near = int(np.ceil(short.bound / 100 - 1e-6)) * 100, short.near
    cost = relaxed(program, near, cap, Limits(), short=False)
    assert cost is not None
    return program, cap, cost.bound


def dive_in(program: Program, cap: int) -> Dive:
    return Dive(program, np.arange(program.picks), cap, Limits())


def windows_in(program: Program, cap: int) -> Windows:
    return Windows(program, Limits(), cap, OVER_COST, np.ones(program.picks, dtype=bool), 100)


@pytest.mark.parametrize("trial", TRIALS)
def test_the_last_runs_composed_together_are_no_worse_than_rounded_one_by_one(trial: Trial):
    """From the same dive, ended where as many are left: the solver may take all that rounding may."""
    program, cap, bound = asked(trial)
    windows, gained = windows_in(program, cap), []
    for shuffle in range(3):
        manner = Manner(shuffle=shuffle, few=40)
        picks = finished(dive_in(program, cap), manner, windows, 0.0, (40,), 60.0)
        assert picks is not None
        assert np.array_equal(np.bincount(program.group, picks, len(program.runs)), program.runs)
        dive = dive_in(program, cap)
        assert dive.settled(manner) is not None
        alone = rounded(program, dive._all())
        assert bound - 1.0 <= windows.worth(picks) <= 1.0003 * windows.worth(alone)
        gained.append(windows.worth(alone) - windows.worth(picks))
    assert max(gained) > 0


@pytest.mark.parametrize("trial", TRIALS)
def test_a_dive_ends_while_few_are_left_and_goes_on_from_there(trial: Trial):
    program, cap, bound = asked(trial)
    dive, left, values = dive_in(program, cap), [], []
    for few in (40, 20, 0):
        value = dive.settled(Manner(few=few))
        assert value is not None
        left.append(len(dive.open()))
        values.append(value)
    assert left[0] <= 60 and left[1] <= 30 and left[2] == 0
    assert left[0] > 0, "all was settled: nothing is left for a solver"
    assert bound - 1.0 <= values[0] <= values[1] + 1e-3 <= values[2] + 2e-3


def test_a_dive_ends_before_a_step_that_would_cost_much_if_few_are_left(monkeypatch: pytest.MonkeyPatch):
    program, cap, _ = asked(TRIALS[0])
    dive = dive_in(program, cap)
    value = dive.settled(Manner(few=40))
    stood, left = dive.values.copy(), len(dive.open())
    assert value is not None and left >= 3
    settle = Dive._settle
    monkeypatch.setattr(Dive, "_settle", lambda *said: 1.01 * (settle(*said) or 0.0))
    assert dive.settled(Manner(few=left - 1)) == pytest.approx(value)
    assert np.array_equal(dive.values, stood) or len(dive.open()) == left
    assert dive.settled(Manner(few=left // 2)) > 1.005 * value, (
        "with more left than half as many again it takes the step"
    )


def test_the_first_stage_that_is_good_enough_is_the_last(monkeypatch: pytest.MonkeyPatch):
    program, cap, _ = asked(TRIALS[0])
    ends: list[int] = []
    settle = Dive.settled

    def settled(dive: Dive, manner: Manner) -> float | None:
        ends.append(manner.few)
        return settle(dive, manner)

    monkeypatch.setattr(Dive, "settled", settled)
    windows = windows_in(program, cap)
    worst = finished(dive_in(program, cap), Manner(), windows, float("inf"), (30, 10, 0), 60.0)
    assert ends == [30]
    best = finished(dive_in(program, cap), Manner(), windows, 0.0, (30, 10, 0), 60.0)
    assert ends == [30, 30, 10, 0]
    assert worst is not None and best is not None
    assert windows.worth(best) <= windows.worth(worst)


def test_of_what_the_stages_give_the_best_is_kept(monkeypatch: pytest.MonkeyPatch):
    program, cap, _ = asked(TRIALS[0])
    good = dive_in(program, cap).plan(Manner())
    bad = rounded(program, np.zeros(program.picks))
    windows = windows_in(program, cap)
    assert good is not None and windows.worth(good) < windows.worth(bad)
    for order in ((bad, good, None), (good, bad, bad), (None, good, bad)):
        plans = iter(order)
        monkeypatch.setattr(finishing, "_together", lambda *_, plans=plans: next(plans))
        picks = finished(dive_in(program, cap), Manner(), windows, 0.0, (30, 10, 0), 60.0)
        assert picks is not None and np.array_equal(picks, good)


def test_where_it_costs_hardly_anything_several_runs_are_settled_in_one_step(monkeypatch: pytest.MonkeyPatch):
    program, cap, _ = asked(Trial(60, 4, side_by_side=20))
    dive, asks = dive_in(program, cap), []
    value = dive.relaxed()
    assert value is not None
    relax = Dive.relaxed
    monkeypatch.setattr(Dive, "relaxed", lambda dive: asks.append(1) or relax(dive))
    columns = dive.open()
    key = dive._key(columns, None, None)
    raised = dive._several(columns, key, value, Manner(easy=0.5), 4)
    assert raised is not None and raised >= value - 1e-3
    assert len(asks) == 1 and len(dive.steps) == len({dive.group[step.column] for step in dive.steps}) == 4
    assert all(dive.values[step.column] >= step.wanted - 1e-6 and step.wanted >= 1 for step in dive.steps)


def test_several_runs_that_cost_too_much_together_are_not_settled():
    program, cap, _ = asked(Trial(60, 4, side_by_side=20))
    dive = dive_in(program, cap)
    value = dive.relaxed()
    assert value is not None
    columns = dive.open()
    least, most, stood = dive.least.copy(), dive.most.copy(), dive.values.copy()
    assert dive._several(columns, dive._key(columns, None, None), value, Manner(easy=-1.0), 4) is None
    assert not dive.steps and np.array_equal(dive.least, least) and np.array_equal(dive.most, most)
    assert np.array_equal(dive.values, stood), "the next step goes by where the relaxation stood"
    assert dive.relaxed() == pytest.approx(value)


@pytest.mark.parametrize("at_once", [3, 5])
@pytest.mark.parametrize("trial", TRIALS)
def test_a_dive_with_several_runs_at_once_makes_every_run(trial: Trial, at_once: int):
    program, cap, bound = asked(trial)
    picks = dive_in(program, cap).plan(Manner(at_once=at_once))
    assert picks is not None
    assert np.array_equal(np.bincount(program.group, picks, len(program.runs)), program.runs)
    assert program.measure(picks)[1] >= bound - 1.0


def test_steady_limits_know_no_time_but_the_whole():
    limits = Limits(seconds=50.0, steady=True)
    for part in (limits.within(0.01), limits.at_most(0.5), limits.within(0.01).at_most(0.5)):
        assert 40.0 < part.left() <= 50.0
    assert replace(limits, steady=False).at_most(0.5).left() <= 0.5
    assert Limits(seconds=0.0, steady=True).over()


def test_alone_a_search_has_no_time_of_its_own_for_any_part(monkeypatch: pytest.MonkeyPatch):
    """The answer is the same while all of the seconds are not over, however many they are."""
    request, given = trial_request(Trial(10, 5, 0.6, side_by_side=4)), []
    solve = cover.solve

    def noted(asked, limits, *, alone):
        given.append(limits)
        return solve(asked, limits, alone=alone)

    monkeypatch.setattr(cover, "solve", noted)
    first = check(request, seconds=60.0, alone=True)
    second = check(request, seconds=90.0, alone=True)
    assert [limits.steady for limits in given] == [True, True]
    assert replace(first, seconds=0.0) == replace(second, seconds=0.0)
    assert not check(request, seconds=5.0).impossible and not given[-1].steady
