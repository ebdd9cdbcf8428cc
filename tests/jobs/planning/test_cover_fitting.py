"""Plans by fitting: room in whole numbers, dives that fill it, windows composed anew exactly."""

from __future__ import annotations

import numpy as np
import pytest

from jobs.planning.dive import Manner
from jobs.planning.filling import Filling
from jobs.planning.fitting import filled
from jobs.planning.limits import Limits
from jobs.planning.mending import Mending
from jobs.planning.model import IntArray
from jobs.planning.program import Program
from jobs.planning.relax import Relaxation
from jobs.planning.rooms import Room, cheapest_room, room_for
from jobs.planning.trials import Trial
from tests.jobs.planning.test_cover_search import bounds_of, program_for

TRIALS = [Trial(10, 1), Trial(10, 2, 0.8, moving=True), Trial(10, 3, 0.6, moving=True)]
Case = tuple[Program, Relaxation, int | None, Room]


@pytest.fixture(params=TRIALS, ids=str)
def case(request: pytest.FixtureRequest) -> Case:
    program = program_for(request.param)
    _, found, cap = bounds_of(program)
    most_short = cap if program.limiting.any() else None
    room = room_for(program, found, most_short, 1.03 * found.bound, 0, Limits())
    assert room is not None
    return program, found, most_short, room


def makes_all(program: Program, picks: IntArray) -> bool:
    made = np.bincount(program.group, weights=picks, minlength=len(program.runs))
    return bool((picks >= 0).all() and (made == program.runs).all())


def test_room_costs_no_less_than_the_relaxation_and_holds_what_its_core_uses(case: Case):
    program, found, _, room = case
    assert found.bound - 1e-3 <= room.value <= room.least + 1e-3
    core = np.bincount(program.group, weights=room.picks, minlength=len(program.runs))
    assert (core[room.core] == program.runs[room.core]).all()
    assert not core[~room.core].any()
    assert (program.usage(room.picks) <= room.most).all()


def test_dives_in_a_room_make_every_run_keep_the_core_and_cost_no_less_than_it(case: Case):
    program, _, most_short, room = case
    filling = Filling(room)
    for shuffle in range(3):
        picks = filling.plan(Manner(shuffle=shuffle), Limits())
        assert picks is not None
        assert makes_all(program, picks)
        core = room.core[program.group]
        assert (picks[core] == room.picks[core]).all()
        short, cost = program.measure(picks)
        assert cost >= room.least - 1e-3 or short > (most_short or 0)


def test_no_room_is_cheaper_than_the_cheapest_and_none_than_its_bound(case: Case):
    program, found, most_short, room = case
    cheapest, bound = cheapest_room(program, found, most_short, 1.05 * found.bound, Limits())
    assert cheapest is not None
    assert found.bound - 1e-3 <= bound <= cheapest.value + 1e-3
    assert bound <= room.value + 1e-3


def test_windows_never_make_a_plan_worse(case: Case):
    program, found, _, room = case
    mending = Mending(program, found, room, 0)
    picks = Filling(room).plan(Manner(), Limits())
    assert picks is not None
    mended = mending.windowed(picks, 30, 150.0, 0.0, Limits())
    assert makes_all(program, mended)
    assert mending.worth(mended) <= mending.worth(picks) + program.days * 30.0


def test_every_third_turn_gives_what_came_near_and_the_same_again():
    program = program_for(TRIALS[1])
    _, found, most_short = bounds_of(program)
    plans = []
    for turn in (2, 2, 0):
        room = room_for(program, found, most_short, 1.03 * found.bound, turn, Limits())
        assert room is not None
        plans.append(filled(program, found, room, found.bound - 1.0, turn, Limits()))
    assert plans[0] is not None
    assert plans[1] is not None
    assert plans[2] is None
    assert makes_all(program, plans[0])
    assert (plans[0] == plans[1]).all()


def test_a_plan_that_fits_its_room_costs_what_the_room_and_its_joints_do(case: Case):
    program, found, _, room = case
    mending = Mending(program, found, room, 0)
    dived = Filling(room).plan(Manner(), Limits())
    assert dived is not None
    picks = mending.mended(dived, room.value + 2_000.0, Limits())
    assert mending.fits(picks, np.inf)
    short, cost = program.measure(picks)
    assert cost <= mending.worth(picks)
    lacking = np.where(program.limiting[:, None], room.most - program.section.on_hand, 0)
    assert short <= program.section.lengths @ lacking.max(axis=1, initial=0)


def test_no_room_is_found_in_no_time_nor_one_that_costs_too_much():
    program = program_for(TRIALS[0])
    _, found, _ = bounds_of(program)
    assert room_for(program, found, None, np.inf, 0, Limits(seconds=0.0)) is None
    assert room_for(program, found, None, found.bound - 1.0, 0, Limits()) is None
