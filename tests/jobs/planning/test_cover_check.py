"""The cover check against every combination tried one by one, and what it promises about its answers."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from jobs.planning.checker import check_answer
from jobs.planning.cover import check
from jobs.planning.request import CoverRequest, Rules
from tests.jobs.planning.cover_samples import asked, best_by_trying_all, day, form, run


def small_request(seed: int) -> CoverRequest:
    """A handful of runs and types, with ends, seats, closed runs, stock that steps, and two sections at times."""
    rng = random.Random(seed)
    lengths = rng.sample(range(1000, 6001, 500), 4)
    pieces = [
        form(length, rng.choice([0, 1, 1, 1, 2]), (0, rng.randint(0, 3)), (rng.randint(1, 5), rng.randint(0, 4)))
        for length in lengths
    ]
    runs = []
    for _ in range(rng.randint(1, 5)):
        start = rng.randint(0, 5)
        closed = {"corner_allowance_mm": -400, "max_overrun_mm": 400} if rng.random() < 0.2 else {}
        runs.append(
            run(
                rng.randrange(1500, 7000, 100),
                start,
                start + rng.randint(1, 4),
                seats=rng.choice([0, 1, 1, 1, 2]),
                **closed,
            )
        )
    ends = "any" if rng.random() < 0.2 else "splayed"
    rules = Rules(100, rng.choice([500, 900]), rng.choice([2, 3]), rng.choice([0, 300]), rng.choice([0, 200]), ends)
    return asked(pieces, runs, rules)


@pytest.mark.parametrize("seed", range(60))
def test_it_finds_what_trying_every_combination_finds(seed: int):
    request = small_request(seed)
    answer = check(request)
    assert check_answer(request, answer) == []
    possible = [item for item in request.runs if item.side not in {gone.side for gone in answer.impossible}]
    best = best_by_trying_all(replace(request, runs=tuple(possible)))
    assert (answer.short_mm, answer.cost_mm) == best if answer.gap == 0 else answer.short_mm == best[0]
    assert (answer.short_bound_mm, answer.proved) == (best[0], True)
    assert answer.cost_bound_mm <= best[1] <= answer.cost_mm


@pytest.mark.parametrize("seed", range(40))
def test_asked_only_whether_it_covers_it_says_the_same(seed: int):
    request = small_request(seed)
    answer = check(replace(request, ask="covered"))
    assert answer.proved
    assert answer.covered == check(request).covered
    assert (answer.cost_bound_mm, answer.gap) == (None, None)


def test_nothing_to_make_is_covered():
    answer = check(asked([form(3000)], []))
    assert (answer.covered, answer.proved, answer.cost_mm, answer.gap) == (True, True, 0, 0.0)


def test_gear_is_free_again_on_the_day_its_run_ends():
    pieces = [form(6000, 1, (0, 1))]
    assert check(asked(pieces, [run(5500, 0, 3), run(5500, 3, 6)])).covered
    assert not check(asked(pieces, [run(5500, 0, 4), run(5500, 3, 6)])).covered


def test_before_the_first_step_there_is_nothing_on_hand():
    answer = check(asked([form(6000, 1, (2, 1))], [run(5500, 0, 3)]))
    assert (answer.covered, answer.short_mm, answer.short[0].first) == (False, 6000, day(0))


def test_the_first_short_day_is_the_day_stock_leaves():
    answer = check(asked([form(6000, 1, (0, 2), (2, 1))], [run(5500, 0, 4), run(5500, 1, 4)]))
    assert [(item.code, item.count, item.first) for item in answer.short] == [("150-6000-1", 1, day(2))]


def test_a_run_nothing_can_make_is_listed_with_a_reason_and_the_others_are_planned():
    answer = check(asked([form(3000)], [run(2800), run(2800, section=200), run(30000)]))
    assert [item.side for item in answer.runs] == ["1"]
    assert [item.side for item in answer.impossible] == ["2", "3"]
    assert "section 200 mm" in answer.impossible[0].reason
    assert "30100 mm" in answer.impossible[1].reason
    assert (answer.covered, answer.short_mm, answer.proved) == (False, 0, True)


def test_a_run_that_seats_at_both_ends_has_a_splay_at_both():
    pieces = [form(3000, 0), form(2000, 1), form(1500, 0)]
    answer = check(asked(pieces, [run(5000, seats=2)]))
    assert answer.runs[0].pieces == ("150-2000-1", "150-1500-0", "150-2000-1")


def test_one_piece_that_seats_at_both_ends_has_two_splayed_ends():
    assert check(asked([form(3000, 1), form(3000, 2)], [run(2500, seats=2)])).runs[0].pieces == ("150-3000-2",)


def test_a_piece_with_two_splayed_ends_is_never_joined():
    answer = check(asked([form(3000, 2), form(3000, 0)], [run(5500)]))
    assert [item.side for item in answer.impossible] == ["1"]


def test_gear_with_square_ends_throughout_has_no_rule_on_ends():
    rules = Rules(100, 900, 3, 300, 200, "any")
    assert check(asked([form(3000, 0)], [run(5500, seats=2)], rules)).covered


def test_a_closed_run_may_fall_short_by_its_filler_and_never_be_longer():
    closed = {"corner_allowance_mm": -300, "max_overrun_mm": 300}
    assert check(asked([form(3000)], [run(3200, **closed)])).covered
    assert check(asked([form(3000)], [run(2900, **closed)])).impossible


def test_the_same_request_has_the_same_answer():
    request = small_request(7)
    first, second = check(request), check(request)
    assert replace(first, seconds=0) == replace(second, seconds=0)


def test_called_off_it_still_gives_a_sound_plan_with_honest_bounds():
    request = small_request(3)
    answer = check(request, cancelled=lambda: True)
    assert check_answer(request, answer) == []
    assert answer.cost_bound_mm <= answer.cost_mm


def test_progress_is_told_and_ends_at_one():
    told: list[float] = []
    check(small_request(5), progress=lambda share, words: told.append(share))
    assert told == sorted(told)
    assert told[-1] == 1.0
