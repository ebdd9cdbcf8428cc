"""Plans by fitting: room in whole numbers, dives that fill it, windows composed anew exactly."""

from __future__ import annotations

import numpy as np
import pytest

from jobs.planning.dive import OVER_COST, Manner
from jobs.planning.filling import Filling
from jobs.planning.fitting import _nearer, filled
from jobs.planning.limits import Limits
from jobs.planning.model import IntArray
from jobs.planning.program import Program
from jobs.planning.relax import Relaxation
from jobs.planning.rooms import Room, cheapest_room, own_room, room_for, sought_room
from jobs.planning.rounding import rounded
from jobs.planning.standing import Standing
from jobs.planning.trials import Trial
from jobs.planning.windows import Windows
from tests.jobs.planning.test_cover_search import bounds_of, program_for

TRIALS = [Trial(10, 1), Trial(10, 2, 0.8, moving=True), Trial(10, 3, 0.6, moving=True)]
# HiGHS stops a search this near to its best.
NEARLY_MM = 60.0
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


@pytest.mark.parametrize("turn", [0, 1])
def test_sought_room_costs_what_its_whole_uses_do_and_is_no_cheaper_than_the_cheapest(case: Case, turn: int):
    program, found, most_short, _ = case
    room = sought_room(program, found, most_short, 1.2 * found.bound, turn, Limits())
    assert room is not None
    cheapest, _ = cheapest_room(program, found, most_short, 1.05 * found.bound, Limits())
    assert cheapest is not None
    assert room.value >= found.bound - 1e-3
    if turn == 0:  # With the runs of the same day in whole numbers, as the cheapest has them.
        assert room.value >= min(cheapest.value, 1.05 * found.bound) - NEARLY_MM
    assert (program.usage(room.picks) <= room.most).all()
    assert room.spent >= program.section.price @ program.usage(room.picks).max(axis=1, initial=0)


def test_the_own_room_of_a_plan_holds_it_and_costs_no_more(case: Case):
    program, found, most_short, room = case
    picks = Filling(room).plan(Manner(), Limits())
    assert picks is not None
    short, cost = program.measure(picks)
    assert short == (most_short or 0)
    own = own_room(program, found, most_short, picks, cost, Limits())
    assert own is not None
    assert own.spent == program.section.price @ program.usage(picks).max(axis=1)
    assert (program.usage(picks) <= own.most).all()
    assert found.bound - 1e-3 <= own.least <= cost


def test_where_too_little_can_be_saved_in_its_own_room_a_plan_is_given_one_with_fewer(case: Case):
    program, found, most_short, _ = case
    picks = rounded(program, np.zeros(program.picks))
    whole = own_room(program, found, most_short, picks, np.inf, Limits())
    assert whole is not None
    assert whole.spent == program.section.price @ program.usage(picks).max(axis=1)
    less = own_room(program, found, most_short, picks, whole.value - 1.0, Limits())
    assert less is not None
    assert found.bound - 1e-3 <= less.value <= whole.value - 1.0
    assert less.spent < whole.spent
    assert own_room(program, found, most_short, picks, found.bound - 1.0, Limits()) is None


def windows_for(program: Program, found: Relaxation, most_short: int | None) -> Windows:
    step = Standing(program).cost_step
    return Windows(program, Limits(), most_short, OVER_COST, found.reduced <= 150.0, step)


def test_a_filled_room_makes_every_run_and_costs_no_less_than_the_room(case: Case):
    program, found, most_short, room = case
    windows = windows_for(program, found, most_short)
    picks = filled(room, room.least, np.inf, 0, Limits(), windows)
    assert picks is not None
    assert makes_all(program, picks)
    assert windows.worth(picks) >= found.bound - 1e-3


def test_filling_stops_at_the_first_plan_that_is_good_enough(case: Case, monkeypatch: pytest.MonkeyPatch):
    program, found, most_short, room = case
    dived, dive = [], Filling.plan
    monkeypatch.setattr(Filling, "plan", lambda self, *how: dived.append(how) or dive(self, *how))
    assert filled(room, np.inf, np.inf, 0, Limits(), windows_for(program, found, most_short)) is not None
    assert len(dived) == 1


def test_where_nothing_is_good_enough_only_what_beats_the_plan_in_hand_is_given(case: Case):
    program, found, most_short, _ = case
    windows, below = windows_for(program, found, most_short), found.bound - 10_000.0
    for hand, given in ((np.inf, True), (below, False)):
        room = room_for(program, found, most_short, 1.03 * found.bound, 0, Limits())
        assert room is not None
        assert (filled(room, below, hand, 0, Limits(), windows) is not None) == given


def test_days_composed_anew_make_every_run_and_a_plan_no_worse(case: Case):
    program, found, most_short, room = case
    windows = windows_for(program, found, most_short)
    picks = rounded(program, np.zeros(program.picks))
    nearer = _nearer(picks, found.bound, room.day, windows)
    assert makes_all(program, nearer)
    assert windows.worth(nearer) < windows.worth(picks)
    assert (_nearer(picks, windows.worth(picks), room.day, windows) == picks).all()


def test_the_same_turn_gives_the_same_plan():
    program = program_for(TRIALS[1])
    _, found, most_short = bounds_of(program)
    plans = []
    for _ in range(2):
        room = sought_room(program, found, most_short, 1.2 * found.bound, 3, Limits())
        assert room is not None
        plans.append(filled(room, room.least, np.inf, 3, Limits(), windows_for(program, found, most_short)))
    assert plans[0] is not None
    assert plans[1] is not None
    assert (plans[0] == plans[1]).all()


def test_no_room_is_found_in_no_time_nor_one_that_costs_too_much():
    program = program_for(TRIALS[0])
    _, found, _ = bounds_of(program)
    assert room_for(program, found, None, np.inf, 0, Limits(seconds=0.0)) is None
    assert room_for(program, found, None, found.bound - 1.0, 0, Limits()) is None
    assert sought_room(program, found, None, np.inf, 0, Limits(seconds=0.0)) is None
