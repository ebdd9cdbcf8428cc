"""Where brackets stand: the count by the rule, and every rule kept once pieces are known."""

from __future__ import annotations

import math
from itertools import combinations, pairwise

from hypothesis import assume, given
from hypothesis import strategies as st

from jobs.planning.brackets import (
    Spacing,
    bracket_count,
    bracket_positions,
    check_brackets,
    moved_brackets,
    moved_words,
)
from jobs.planning.laying import best_order, check_laid, lay
from jobs.planning.runs import RunRules, runs_of

from .shapes import panel

EVERY = Spacing(1200, 300)
spacings = st.builds(
    Spacing, st.integers(200, 3000), st.integers(60, 600), st.integers(2, 4), st.integers(0, 50)
).filter(lambda every: every.greatest_mm > 2 * every.clear_of_joint_mm)


def run_of(length, hand="start", **rules):
    return runs_of(panel(width=length, height=3000, seats_at=hand), RunRules(**rules))[0]


@given(st.integers(100, 15000), spacings)
def test_before_pieces_are_known_the_count_is_the_rules_and_the_rules_are_kept(length, every):
    run = run_of(length)
    at = bracket_positions(run, every)
    assert len(at) == max(every.least, 1 + math.ceil((length - 2 * every.end_mm) / every.greatest_mm))
    assert check_brackets(run, at, every) == []
    assert list(at) == sorted(set(at))


pieces_of_a_run = st.lists(st.sampled_from([500, 1000, 1500, 2000, 3000, 4000, 6000]), min_size=1, max_size=5)


@given(pieces_of_a_run, st.integers(0, 400), st.sampled_from(["start", "end"]))
def test_once_pieces_are_known_every_rule_is_kept(lengths, over, hand):
    assume(sum(lengths) - over >= 400 and over < lengths[-1] - 200)
    run = run_of(sum(lengths) - over, hand)
    laid = lay(run, lengths)
    at = bracket_positions(run, EVERY, laid)
    assert check_brackets(run, at, EVERY, laid) == []
    assert len(at) >= bracket_count(run.length_mm, EVERY)


@given(pieces_of_a_run.filter(lambda lengths: sum(lengths) <= 7000))
def test_no_fewer_brackets_could_keep_the_rules(lengths):
    """Brute force over every choice of one bracket fewer, on a grid of 50 mm (spacing and clearances fall on
    it). The grid holds every rightmost choice, so nothing is lost by it."""
    run = run_of(sum(lengths))
    laid = lay(run, lengths)
    at = bracket_positions(run, EVERY, laid)
    grid = range(0, run.length_mm + 1, 50)
    if len(at) > 2 and math.comb(len(grid), len(at) - 1) < 20_000:
        for fewer in combinations(grid, len(at) - 1):
            assert check_brackets(run, fewer, EVERY, laid)


def test_a_bracket_moves_off_a_joint():
    run = run_of(6000)
    laid = lay(run, [3540, 2460])
    assert 3540 in bracket_positions(run, EVERY)
    assert all(abs(at - 3540) >= 50 for at in bracket_positions(run, EVERY, laid))


def test_brackets_stand_evenly():
    gaps = [b - a for a, b in pairwise(bracket_positions(run_of(7000), EVERY))]
    assert max(gaps) - min(gaps) <= len(gaps)


def test_two_brackets_of_a_short_run_do_not_stand_on_one_spot():
    assert bracket_positions(run_of(620), EVERY) == (155, 465)


def test_positions_fixed_by_what_is_cast_are_flagged_where_they_do_not_fit():
    run = run_of(6000)
    laid = lay(run, [3000, 3000])
    codes = {found.code for found in check_brackets(run, (300, 1500, 3000, 4500), EVERY, laid)}
    assert codes == {"bracket-spacing", "bracket-on-joint", "bracket-end"}


@given(pieces_of_a_run, st.lists(st.integers(0, 15000), min_size=1, max_size=6))
def test_what_is_told_of_a_run_is_the_same_whichever_end_it_seats_at(lengths, at):
    """A run seen in a mirror: places are told from the seat, not from the start of the side."""
    told = []
    for hand in ("start", "end"):
        run = run_of(sum(lengths), hand)
        laid = lay(run, lengths)
        places = sorted({run.reckoning.of(min(mm, run.length_mm)) for mm in at})
        found = [*check_brackets(run, places, EVERY, laid), *check_laid(laid)]
        told.append(sorted(one.sentence for one in found))
    assert told[0] == told[1]


def test_a_bracket_moved_off_a_joint_is_told_from_the_seat():
    """A run of 6.0 m that seats at its end: its joint at 2,500 mm from the start is at 3,500 mm from the seat."""
    run = run_of(6000, "end")
    laid = lay(run, [3500, 2500])
    (moved,) = moved_brackets(run, bracket_positions(run, EVERY, laid), EVERY, laid)
    assert (moved.plain_mm, moved.joint_mm) == (2460, 2500)
    stands = 6000 - moved.stands_mm
    assert f"bracket 3,540 mm from the seat would stand on the joint at 3,500 mm: it is moved to {stands:,} mm." in (
        moved_words(run, moved).sentence
    )


def test_a_piece_with_no_bracket_is_flagged():
    run = run_of(6000)
    found = check_brackets(run, (300, 5700), Spacing(6000, 300), lay(run, [2500, 500, 3000]))
    assert [one.code for one in found].count("piece-without-bracket") == 1


def test_a_joint_within_150_mm_of_a_seat_is_flagged():
    """The next run seats on this one where it crosses the corner, so both corners count."""
    run = run_of(6000)
    assert [one.code for one in check_laid(lay(run, [100, 6000]))] == ["joint-near-seat"]
    assert [one.code for one in check_laid(lay(run, [5900, 1000]))] == ["joint-near-seat"]
    assert check_laid(lay(run, [3000, 3500])) == []


def test_pieces_are_put_in_an_order_that_keeps_joints_clear_of_seats():
    run = run_of(6000, corner_allowance_mm=0, max_overrun_mm=1000)
    bad = [1000, 2000, 3000, 500]
    assert [one.code for one in check_laid(lay(run, bad))] == ["joint-near-seat"]
    order = best_order(run, bad, [1, 0, 0, 0])
    assert order[0] == 0 and check_laid(lay(run, [bad[at] for at in order])) == []


def test_an_order_with_every_joint_clear_stays_as_it_is_and_splayed_ends_stay_outermost():
    run = run_of(6000)
    assert best_order(run, [3000, 3500], [1, 1]) == (0, 1)
    assert best_order(run, [3000, 2950, 1000], [1, 0, 1]) == (2, 1, 0)


def test_pieces_are_laid_from_the_seat_at_either_hand():
    assert lay(run_of(6000, "end"), [4000, 2500]).pieces == ((-500, 2000), (2000, 6000))
    assert lay(run_of(6000), [4000, 2500]).pieces == ((0, 4000), (4000, 6500))


def test_pieces_out_of_bounds_are_flagged():
    assert [one.code for one in check_laid(lay(run_of(6000), [3000]))] == ["run-length"]
