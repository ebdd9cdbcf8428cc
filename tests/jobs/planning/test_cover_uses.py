"""Greatest uses settled before any run: they can be kept, cost what is said of them, and dives begin there."""

from __future__ import annotations

import numpy as np
import pytest

from jobs.planning import search as searching
from jobs.planning import uses as settling
from jobs.planning.dive import Dive
from jobs.planning.limits import Limits
from jobs.planning.linear import linear_of, scope_of
from jobs.planning.model import IntArray
from jobs.planning.program import INFINITE, FloatArray, Program
from jobs.planning.search import SectionSearch
from jobs.planning.trials import Trial
from jobs.planning.turns import Place, Turn, turns_of
from jobs.planning.uses import uses_in_whole
from jobs.planning.whole import settled
from tests.jobs.planning.test_cover_search import bounds_of, program_for

TRIALS = [
    Trial(10, 2, 0.8, moving=True),
    Trial(12, 3, 0.6, moving=True, side_by_side=6),
    Trial(30, 4, 0.6, side_by_side=10, alike=True),
]


def least_with_whole_uses(program: Program, cap: int) -> float:
    """Over every choice, as HiGHS proves it."""
    linear = linear_of(program, scope_of(program, np.arange(program.picks), cap))
    return settled(linear, Limits(), nodes=10**6, whole=np.zeros(program.picks, dtype=bool)).bound


def value_within(program: Program, cap: int, uses: FloatArray) -> float:
    """The relaxation where greatest uses and lacks are as given."""
    dive = Dive(program, np.arange(program.picks), cap, Limits())
    for at, number in enumerate(uses, program.picks):
        dive.bound(at, number, number)
    value = dive.relaxed()
    assert value is not None
    return value


@pytest.mark.parametrize("trial", TRIALS, ids=str)
def test_uses_in_whole_can_be_kept_and_their_bound_holds(trial: Trial, monkeypatch: pytest.MonkeyPatch):
    program = program_for(trial)
    _, found, cap = bounds_of(program)
    least = least_with_whole_uses(program, cap)
    had = []
    for reach in (0.0, 100.0, 3_000.0):
        monkeypatch.setattr(settling, "_REACH_MM", reach)
        uses, bound = uses_in_whole(program, found, cap, Limits())
        assert found.bound - 1e-3 <= bound <= least + 1.0
        if uses is not None:
            had.append(reach)
            assert np.array_equal(uses, np.rint(uses))
            types = program.types
            assert uses[types : 2 * types] @ program.section.lengths <= cap
            value = value_within(program, cap, uses)
            assert least - 1.0 <= value <= (1 + 3e-4) * max(found.bound, least) + 40.0
    assert had, "none was found with whatever reach"


def test_in_no_time_there_are_no_uses():
    program = program_for(TRIALS[0])
    _, found, cap = bounds_of(program)
    assert uses_in_whole(program, found, cap, Limits(seconds=0.0)) == (None, found.bound)


def test_a_dive_with_uses_sought_begins_at_them_and_lifts_the_bound(monkeypatch: pytest.MonkeyPatch):
    search = SectionSearch(program_for(TRIALS[2]).section, Limits(), Place(1, 2))
    search._begin()
    cap = search.plan.short_bound
    found = search._relaxed(cap)
    assert found is not None and not search._done()
    begun: list[tuple[IntArray, IntArray]] = []
    sought: list[FloatArray] = []

    def seek(*said: object) -> tuple[FloatArray, float]:
        uses, _ = uses_in_whole(*said)  # type: ignore[arg-type]
        sought.append(np.zeros(0) if uses is None else uses)
        return uses, found.bound + 7.0

    def finish(dive: Dive, *_: object) -> None:
        assert dive.relaxed() is not None
        lp = dive.highs.getLp()
        uses = slice(len(dive.columns), -1)
        begun.append((np.array(lp.col_lower_)[uses], np.array(lp.col_upper_)[uses]))

    monkeypatch.setattr(settling, "_REACH_MM", 3_000.0)
    monkeypatch.setattr(searching, "uses_in_whole", seek)
    monkeypatch.setattr(searching, "finished", finish)
    search._rest(found, cap, Turn(shuffle=0, rest=True))
    assert not sought and not np.array_equal(begun[0][0], np.rint(begun[0][0]) + 1) and not begun[0][0].any()
    search._rest(found, cap, Turn(shuffle=0, rest=True, sought=True))
    assert len(sought[0]) and np.array_equal(begun[1][0], sought[0])
    assert (begun[1][1] >= INFINITE).all(), "more may be used, at what it costs"
    assert search.standing.proved_at(cap) >= found.bound + 6.9


def test_only_in_large_sections_where_something_lacks_are_uses_sought_before_a_dive():
    for number in (0, 1):
        for hands in (1, 2):
            place = Place(number, hands)
            short = turns_of(place, False, True, True, False)
            assert any(turn.rest and turn.sought for turn in short)
            assert not any(turn.rest and turn.sought for turn in turns_of(place, False, True, False, False))
            assert not any(turn.rest and turn.sought for turn in turns_of(place, True, True, True, False))
    assert turns_of(Place(1, 2), False, True, True, False)[0].sought, "one hand at least has time for it"
