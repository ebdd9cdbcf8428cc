"""What a solver settles as a whole: the least shortage of all days, and a section that nothing else has proved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from jobs.planning import search as searching
from jobs.planning.answer import PROVED_GAP
from jobs.planning.dive import Manner
from jobs.planning.least_short import short_of_all_days
from jobs.planning.limits import Limits
from jobs.planning.linear import Scope, linear_of, scope_of
from jobs.planning.model import IntArray
from jobs.planning.program import Program
from jobs.planning.rounding import rounded
from jobs.planning.search import SectionSearch
from jobs.planning.trials import Trial
from jobs.planning.turns import Place, Turn, turns_of
from jobs.planning.whole import settled
from tests.jobs.planning.test_cover_search import bounds_of, program_for

TRIALS = [Trial(10, 2, 0.8, moving=True, side_by_side=5), Trial(10, 3, 0.6, side_by_side=5)]


def least_short(program: Program) -> int:
    """Over every choice and without any plan or bound in hand."""
    scope = scope_of(program, np.arange(program.picks), None, short=True)
    outcome = settled(linear_of(program, scope), Limits(), nodes=10**6, gap_mm=1.0)
    assert outcome.picks is not None
    return program.measure(outcome.picks)[0]


def poor_plan(program: Program) -> IntArray:
    """Each run made of what is cheapest by itself."""
    return rounded(program, np.zeros(program.picks))


@pytest.mark.parametrize("trial", TRIALS, ids=str)
def test_less_is_found_until_it_is_least_and_then_that_is_proved(trial: Trial):
    program = program_for(trial)
    found, _, _ = bounds_of(program)
    least, step = least_short(program), 100
    short, _ = program.measure(poor_plan(program))
    assert short > least
    outcome = short_of_all_days(program, found, short, least, step, 10**6, Limits())
    assert outcome.picks is not None and program.measure(outcome.picks)[0] == least
    assert np.array_equal(np.bincount(program.group, outcome.picks, len(program.runs)), program.runs)
    assert found.bound - 1.0 <= outcome.bound <= least
    above = short_of_all_days(program, found, least + step, 0.0, step, 10**6, Limits())
    assert above.picks is not None and program.measure(above.picks)[0] == least
    proof = short_of_all_days(program, found, least, 0.0, step, 10**6, Limits())
    assert proof.picks is None and proof.bound == least


@pytest.mark.parametrize("trial", [*TRIALS, replace(TRIALS[0], share=None)], ids=str)
def test_a_whole_turn_proves_a_section_from_whatever_plan_there_is(trial: Trial):
    search = SectionSearch(program_for(trial).section, Limits(), Place(1, 2))
    search._begin()
    search.standing.found = True  # what it begins with counts as a plan
    assert not search.good
    search.turns = (Turn(whole=True),)
    plan = search.best()
    assert plan.short == plan.short_bound
    if search.program.limiting.any():
        assert plan.short == least_short(search.program)
    assert search.good and plan.cost - plan.cost_bound <= PROVED_GAP * plan.cost
    other = SectionSearch(search.program.section, Limits()).best()
    assert max(plan.cost_bound, other.cost_bound) <= min(plan.cost, other.cost)


@pytest.mark.parametrize("trial", [*TRIALS, replace(TRIALS[0], share=None)], ids=str)
def test_no_choice_of_a_plan_as_good_as_the_one_in_hand_is_left_out(trial: Trial, monkeypatch: pytest.MonkeyPatch):
    search = SectionSearch(program_for(trial).section, Limits(), Place(1, 2))
    search.best()
    program, cap, picks = search.program, search.plan.short_bound, search.plan.picks
    search.spare = lambda: -1e9  # nothing is good enough
    found, looked = search._relaxed(cap), []

    def scope(program: Program, columns: IntArray, cap: int | None) -> Scope:
        looked.append(columns)
        return scope_of(program, columns, cap)

    monkeypatch.setattr(searching, "scope_of", scope)
    assert found is not None and search.plan.short == cap
    search._whole_cost(found, cap, len(program.group), 1, Limits())
    assert np.isin(np.nonzero(picks)[0], looked[0]).all()
    assert len(looked[0]) < program.picks
    search._whole_cost(found, cap, len(looked[0]) - 1, 1, Limits())
    assert len(looked) == 1, "of more choices than asked for none is looked at"


@pytest.mark.parametrize("seed", range(2, 8))
def test_as_a_whole_the_cheapest_is_found_and_no_bound_passes_it(seed: int):
    """Choices that only dearer plans can use are left out, and no others: from plans that are a little dearer."""
    search = SectionSearch(program_for(replace(TRIALS[0], seed=seed)).section, Limits(), Place(1, 2))
    search._begin()
    program, cap = search.program, search.plan.short_bound
    found = search._relaxed(cap)
    assert found is not None
    outcome = settled(linear_of(program, scope_of(program, np.arange(program.picks), cap)), Limits(), nodes=10**6)
    assert outcome.picks is not None, "more lacks than is proved: take another seed"
    _, least = program.measure(outcome.picks)
    for shuffle in range(4):
        fresh = SectionSearch(program.section, Limits(), Place(1, 2))
        fresh.standing.lift_short(cap)
        fresh.standing.offer(fresh._dive(found, cap).plan(Manner(shuffle=shuffle)))
        if fresh.plan.short > cap:
            continue
        fresh._whole_cost(found, cap, len(program.group), 10**6, Limits())
        assert least <= fresh.plan.cost <= (1 + PROVED_GAP) * least
        assert fresh.standing.proved_at(cap) <= least


def test_small_sections_come_to_a_whole_turn_and_large_ones_never():
    for number, hands in ((0, 1), (0, 2), (1, 2)):
        for together in (True, False):
            for limited, short in ((False, False), (True, False), (True, True)):
                for heard in (True, False):
                    place = Place(number, hands, together)
                    small, large = (turns_of(place, size, limited, short, heard) for size in (True, False))
                    assert any(turn.whole for turn in small), (place, limited, short, heard)
                    assert not any(turn.whole for turn in large)
                    first = next(at for at, turn in enumerate(small) if turn.whole)
                    assert first >= 8, "it takes all the time there is: quicker ways come first"
