"""Plans by fitting: room in whole numbers, runs drawn that nearly keep within it, windows composed anew exactly."""

from __future__ import annotations

import numpy as np
import pytest

from jobs.planning.annealing import Annealing
from jobs.planning.fitting import fitted
from jobs.planning.limits import Limits
from jobs.planning.mending import Mending
from jobs.planning.model import IntArray
from jobs.planning.program import Program
from jobs.planning.relax import Relaxation
from jobs.planning.rooms import Room, room_for
from jobs.planning.trials import Trial
from tests.jobs.planning.test_cover_search import bounds_of, program_for

TRIALS = [Trial(10, 1), Trial(10, 2, 0.8, moving=True), Trial(10, 3, 0.6, moving=True)]
Case = tuple[Program, Relaxation, int | None, Room]


@pytest.fixture(scope="module", params=TRIALS, ids=str)
def case(request: pytest.FixtureRequest) -> Case:
    program = program_for(request.param)
    _, found, cap = bounds_of(program)
    most_short = cap if program.limiting.any() else None
    room = room_for(program, found, most_short, 1.002 * found.bound, 0, Limits())
    assert room is not None
    return program, found, most_short, room


def makes_all(program: Program, picks: IntArray) -> bool:
    made = np.bincount(program.group, weights=picks, minlength=len(program.runs))
    return bool((picks >= 0).all() and (made == program.runs).all())


def test_room_costs_no_less_than_the_relaxation_and_holds_what_its_core_uses(case: Case):
    program, found, _, room = case
    assert room.value >= found.bound - 1e-3
    core = np.bincount(program.group, weights=room.picks, minlength=len(program.runs))
    assert (core[room.core] == program.runs[room.core]).all()
    assert not core[~room.core].any()
    assert (program.usage(room.picks) <= room.most).all()


def test_what_is_drawn_makes_every_run_and_keeps_the_core(case: Case):
    program, found, _, room = case
    for picks in Annealing(program, found, room, 0).plans(2, Limits()):
        assert makes_all(program, picks)
        core = room.core[program.group]
        assert (picks[core] == room.picks[core]).all()


def test_a_round_of_runs_shares_no_day_and_all_runs_are_in_rounds(case: Case):
    program, found, _, room = case
    drawing = Annealing(program, found, room, 0)
    for each in drawing.rounds:
        days = each.days[each.days < program.days]
        assert len(days) == len(set(days.tolist()))
    runs = np.concatenate([each.runs for each in drawing.rounds])
    assert sorted(runs.tolist()) == list(range(int(program.runs[~room.core].sum())))


def test_windows_never_make_a_plan_worse(case: Case):
    program, found, _, room = case
    mending = Mending(program, found, room, 0)
    picks = min(Annealing(program, found, room, 0).plans(2, Limits()), key=mending.worth)
    mended = mending.windowed(picks, 30, 150.0, 0.0, Limits())
    assert makes_all(program, mended)
    assert mending.worth(mended) <= mending.worth(picks) + program.days * 30.0


def test_a_fitted_plan_is_whole_and_comes_out_the_same_again():
    program = program_for(TRIALS[1])
    _, found, most_short = bounds_of(program)
    goal = 1.001 * found.bound
    plans = [fitted(program, found, most_short, goal, np.inf, 0, Limits()) for _ in range(2)]
    assert plans[0] is not None
    assert plans[1] is not None
    assert makes_all(program, plans[0])
    assert (plans[0] == plans[1]).all()


def test_a_plan_that_fits_its_room_costs_what_the_room_and_its_joints_do(case: Case):
    program, found, _, room = case
    mending = Mending(program, found, room, 0)
    picks = mending.mended(Annealing(program, found, room, 0).plans(1, Limits())[0], room.value + 2_000.0, Limits())
    assert mending.fits(picks, np.inf)
    short, cost = program.measure(picks)
    assert cost <= mending.worth(picks)
    lacking = np.where(program.limiting[:, None], room.most - program.section.on_hand, 0)
    assert short <= program.section.lengths @ lacking.max(axis=1, initial=0)


def test_no_room_is_looked_for_in_no_time():
    program = program_for(TRIALS[0])
    _, found, _ = bounds_of(program)
    assert fitted(program, found, None, found.bound, np.inf, 0, Limits(seconds=0.0)) is None
