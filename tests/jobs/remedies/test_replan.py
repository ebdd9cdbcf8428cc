"""Replanning jobs together, against every way to compose all of them tried one by one."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from itertools import product

import pytest

from jobs.planning.cover import check
from jobs.planning.limits import Limits
from jobs.planning.remedies.replan import OtherJob, Together, of_fewest_joints, recomposed, replan, with_left
from jobs.planning.request import CoverRequest
from tests.jobs.planning.cover_samples import asked, day, every_choice, form, run

SPAN = range(-2, 12)
BACK = day(8)


def together(new: CoverRequest, other: CoverRequest, free: dict[str, int], present: dict[str, int], back=BACK):
    """One other job whose only truck is loaded on day 0 and used from day 0; the new one needs its gear on the day
    alone."""
    job = OtherJob("J2", other, ((day(0), day(0)),), back, {code: (count,) for code, count in present.items()})
    windows = {day(n): (day(n), day(n + 1)) for n in SPAN}
    return Together(new, (job,), {code: ((day(-5), count),) for code, count in free.items()}, windows)


def pieces():
    return [form(6000, 1), form(3000, 1), form(3000, 0)]


def long_or_two() -> Together:
    """The other job holds the only form of 6 m for a run that two of 3 m make as well; the new one may have but one
    piece in its run."""
    one = replace(asked([], []).rules, max_pieces_per_run=1)
    new = asked(pieces(), [run(5500, 1, 3)], one)
    other = asked(pieces(), [run(5500, 0, 5)])
    free = {"150-6000-1": 1, "150-3000-1": 1, "150-3000-0": 1}
    return together(new, other, free, {"150-6000-1": 1, "150-3000-1": 0, "150-3000-0": 0})


def test_the_other_job_gives_up_a_long_form_for_two_short_ones():
    answer = replan(long_or_two(), Limits())
    assert answer.loads is not None and answer.proved
    [loads] = answer.loads
    assert loads.held == {"150-6000-1": (0,), "150-3000-1": (1,), "150-3000-0": (1,)}
    assert sorted(loads.answer.runs[0].pieces) == ["150-3000-0", "150-3000-1"]
    assert answer.changed_mm == 12_000


def test_of_changes_of_the_same_length_the_one_of_fewer_pieces_is_taken():
    """In place of a form of 6 m two of 3 m or four that are as long: as much form, but two joints less."""
    kinds = [form(mm, n) for mm, n in ((1000, 0), (1500, 1), (2000, 0), (3000, 0), (3000, 1), (6000, 1))]
    one, four = (replace(asked([], []).rules, max_pieces_per_run=most) for most in (1, 4))
    free = {kind.code: 1 + (kind.code == "150-1500-1") for kind in kinds}
    question = together(asked(kinds, [run(5500, 1, 3)], one), asked(kinds, [run(5500, 0, 5)], four), free, {})
    question = replace(question, others=(replace(question.others[0], present={"150-6000-1": (1,)}),))
    answer = replan(question, Limits())
    assert answer.loads is not None
    assert sorted(answer.loads[0].answer.runs[0].pieces) == ["150-3000-0", "150-3000-1"]


def test_where_plates_are_short_more_form_is_changed_for_fewer_joints():
    """In place of its form of 6 m the other job may have two of 3 m, as long together, or one of 6.3 m, which is too
    long for the new one."""
    kinds = [*pieces(), form(6300, 1)]
    new = replace(asked(kinds, [run(5500, 1, 3)]).rules, max_pieces_per_run=1, max_overrun_mm=600)
    question = together(asked(kinds, [run(5500, 1, 3)], new), asked(kinds, [run(5500, 0, 5)]), {}, {"150-6000-1": 1})
    question = replace(question, free={kind.code: ((day(-5), 1),) for kind in kinds})
    least, fewest = replan(question, Limits()), of_fewest_joints(question, Limits())
    assert least.loads is not None and fewest.loads is not None
    assert sorted(least.loads[0].answer.runs[0].pieces) == ["150-3000-0", "150-3000-1"]
    assert fewest.loads[0].answer.runs[0].pieces == ("150-6300-1",)
    assert (least.changed_mm, fewest.changed_mm) == (12_000, 12_300)


def test_the_same_load_lists_are_composed_anew_with_the_fewest_joints():
    """Holding the long form and the two short ones, the other job makes its run of the long one, without a joint."""
    question = together(asked(pieces(), [run(2700, 1, 3)]), asked(pieces(), [run(5500, 0, 5)]), {"150-3000-1": 1}, {})
    held = {"150-6000-1": (1,), "150-3000-1": (1,), "150-3000-0": (1,)}
    question = replace(question, free={code: ((day(-5), 2),) for code in held})
    answer = recomposed(question, {"J2": held}, Limits())
    assert answer.loads is not None and answer.loads[0].held == held
    assert answer.loads[0].answer.runs[0].pieces == ("150-6000-1",)
    held_now = replace(question, others=(replace(question.others[0], present=held),))
    fewest = of_fewest_joints(held_now, Limits())
    assert fewest.loads is not None and fewest.loads[0].answer.runs[0].pieces == ("150-6000-1",)
    assert (fewest.loads[0].held, fewest.changed_mm) == (held, 0)
    assert recomposed(question, {"J2": {**held, "150-6000-1": (0,), "150-3000-1": (0,)}}, Limits()).loads is None


def test_gear_does_not_hop_between_sites():
    """The other job uses the form on days 0 to 2 and holds it until it is back on day 8: on day 4 it is not free."""
    one = replace(asked([], []).rules, max_pieces_per_run=1)
    new, other = asked(pieces(), [run(5500, 4, 6)], one), asked(pieces(), [run(5500, 0, 2)], one)
    free = {"150-6000-1": 1, "150-3000-1": 0, "150-3000-0": 0}
    answer = replan(together(new, other, free, {"150-6000-1": 1}), Limits())
    assert (answer.loads, answer.proved) == (None, True)
    again = together(new, other, free, {"150-6000-1": 1}, back=day(3))
    assert replan(again, Limits()).loads is not None


def test_without_other_jobs_there_is_nothing_to_replan():
    assert replan(replace(long_or_two(), others=()), Limits()).loads is None


def held_at_most(request: CoverRequest, combination) -> Counter:
    """The greatest number of each type in use at once: what a job that holds its gear throughout must hold."""
    most: Counter = Counter()
    for n in SPAN:
        now: Counter = Counter()
        for item, codes in zip(request.runs, combination, strict=True):
            if item.start <= day(n) < item.until:
                now.update(codes)
        most |= now
    return most


def fits_by_trying_all(question: Together) -> bool:
    [job] = question.others
    for combination in product(*(every_choice(job.request, item) for item in job.request.runs)):
        held = held_at_most(job.request, combination)
        left = with_left(question, [{piece.code: (held[piece.code],) for piece in job.request.pieces}])
        if all(held[code] <= count[0][1] for code, count in question.free.items()) and check(left).covered:
            return True
    return False


@pytest.mark.parametrize("seed", range(10))
def test_it_fits_exactly_when_some_way_to_compose_both_does(seed: int):
    rng = random.Random(seed)
    lengths = [2700, 5500, 5600]
    new = asked(pieces(), [run(rng.choice(lengths), n, n + 2) for n in (1, rng.randint(1, 4))])
    other = asked(pieces(), [run(rng.choice(lengths), n, n + 3) for n in (0, rng.randint(0, 3))])
    free = {piece.code: rng.randint(0, 3) for piece in pieces()}
    question = together(new, other, free, {piece.code: 0 for piece in pieces()}, back=day(rng.choice([6, 9])))
    answer = replan(question, Limits())
    assert answer.proved and (answer.loads is not None) is fits_by_trying_all(question)


def test_both_outcomes_are_met_among_the_samples():
    outcomes = set()
    for seed in range(10):
        rng = random.Random(seed)
        lengths = [2700, 5500, 5600]
        new = asked(pieces(), [run(rng.choice(lengths), n, n + 2) for n in (1, rng.randint(1, 4))])
        other = asked(pieces(), [run(rng.choice(lengths), n, n + 3) for n in (0, rng.randint(0, 3))])
        free = {piece.code: rng.randint(0, 3) for piece in pieces()}
        question = together(new, other, free, {piece.code: 0 for piece in pieces()}, back=day(rng.choice([6, 9])))
        outcomes.add(replan(question, Limits()).loads is not None)
    assert outcomes == {True, False}


def test_a_second_truck_brings_more_and_nothing_leaves_before_the_end():
    one = replace(asked([], []).rules, max_pieces_per_run=1)
    other = asked(pieces(), [run(5500, 0, 2), run(5500, 4, 6), run(5400, 4, 6)], one)
    new = asked(pieces(), [run(5500, 1, 3)], one)
    free = {"150-6000-1": ((day(-5), 2),), "150-3000-1": ((day(-5), 0),), "150-3000-0": ((day(-5), 0),)}
    job = OtherJob("J2", other, ((day(0), day(0)), (day(4), day(4))), day(8), {"150-6000-1": (2, 2)})
    windows = {day(n): (day(n), day(n + 1)) for n in SPAN}
    answer = replan(Together(new, (job,), free, windows), Limits())
    assert answer.loads is not None and answer.loads[0].held["150-6000-1"] == (1, 2)
    late = replace(new, runs=tuple(replace(r, start=day(5), until=day(6)) for r in new.runs))
    assert replan(Together(late, (job,), free, windows), Limits()).loads is None


def test_what_is_left_is_the_least_of_each_window():
    question = long_or_two()
    left = with_left(question, [{"150-6000-1": (1,)}])
    piece = next(piece for piece in left.pieces if piece.code == "150-6000-1")
    assert (piece.count_on(day(-1)), piece.count_on(day(1)), piece.count_on(day(8))) == (1, 0, 1)
