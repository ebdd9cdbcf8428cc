"""Cutting surplus lengths down, against every choice of cuts tried one by one; and new forms from mill bars."""

from __future__ import annotations

import random
from itertools import combinations_with_replacement, product

import pytest

from jobs.planning.answer import Short
from jobs.planning.cover import check
from jobs.planning.limits import Limits
from jobs.planning.remedies.cut_down import Surplus, cut_down
from jobs.planning.remedies.extras import coverable
from jobs.planning.remedies.new_bars import MillLength, new_bars
from jobs.planning.remedies.shortage import Shortage
from jobs.planning.request import CoverRequest
from tests.jobs.planning.cover_samples import asked, best_by_trying_all, day, form, run

KERF = 4


def short_of_a_short_one(long_count: int = 2) -> CoverRequest:
    """Two runs of 2.5 m and no form for either; forms of 6.1 m, too long for them."""
    pieces = [form(6100, 1, (0, long_count)), form(3000, 1, (0, 0)), form(2800, 0, (0, 9))]
    return asked(pieces, [run(2500), run(2500)])


def test_one_long_length_makes_two_short_ones_and_one_end_is_cut_splayed():
    """3000 + 4 + 3000 of 6100 leaves an offcut of 100 less two saw cuts; the parent has one splayed end."""
    answer = cut_down(Shortage(short_of_a_short_one()), [Surplus("150-6100-1", 2, day(0))], KERF, Limits())
    [line] = answer.lines
    assert (line.code, line.into, line.count) == ("150-6100-1", ("150-3000-1", "150-3000-1"), 1)
    assert (line.offcut_mm, line.splay, line.day) == (92, 1, day(0))
    assert answer.found.proved and (answer.found.price, answer.found.bound) == (1, 1)


def test_the_saw_cut_counts():
    pieces = [form(6000, 1, (0, 2)), form(3000, 1, (0, 0))]
    request = asked(pieces, [run(2500), run(2500)])
    two = cut_down(Shortage(request), [Surplus("150-6000-1", 2, day(0))], KERF, Limits())
    assert two.found.price == 2
    assert cut_down(Shortage(request), [Surplus("150-6000-1", 2, day(0))], 0, Limits()).found.price == 1


def test_no_more_is_cut_than_nobody_has_reserved():
    answer = cut_down(Shortage(short_of_a_short_one()), [Surplus("150-6100-1", 0, day(0))], KERF, Limits())
    assert not answer.found.turns and answer.found.proved


def test_what_this_job_needs_itself_is_not_cut():
    pieces = [form(6100, 1, (0, 1)), form(3000, 1, (0, 0))]
    request = asked(pieces, [run(5600), run(2500)])
    assert not cut_down(Shortage(request), [Surplus("150-6100-1", 1, day(0))], KERF, Limits()).found.turns


def test_parts_that_come_too_late_are_of_no_use():
    answer = cut_down(Shortage(short_of_a_short_one()), [Surplus("150-6100-1", 2, day(1))], KERF, Limits())
    assert not answer.found.turns


def fewest_by_trying_all(request: CoverRequest, surplus: dict[str, int]) -> int | None:
    types = {piece.code: piece for piece in request.pieces}
    ways = []
    for code in surplus:
        shorter = [kind for kind in request.pieces if kind.length_mm < types[code].length_mm]
        for count in (1, 2, 3):
            for parts in combinations_with_replacement(shorter, count):
                if sum(part.length_mm + KERF for part in parts) <= types[code].length_mm + KERF:
                    ways.append((code, [part.code for part in parts]))
    fewest = []
    for counts in product(range(max(surplus.values(), default=0) + 1), repeat=len(ways)):
        if fewest and sum(counts) >= min(fewest):
            continue
        stock = {code: piece.on_hand[0][1] for code, piece in types.items()}
        cut = dict.fromkeys(surplus, 0)
        for (code, parts), times in zip(ways, counts, strict=True):
            cut[code] += times
            stock[code] -= times
            for part in parts:
                stock[part] += times
        if any(cut[code] > surplus[code] for code in surplus) or min(stock.values()) < 0:
            continue
        best = best_by_trying_all(request.with_stock({code: [(day(0), n)] for code, n in stock.items()}))
        if best is not None and best[0] == 0:
            fewest.append(sum(counts))
    return min(fewest, default=None)


@pytest.mark.parametrize("seed", range(8))
def test_the_fewest_lengths_are_cut(seed: int):
    rng = random.Random(seed)
    pieces = [form(6000, 1, (0, 2)), form(rng.choice([3000, 2900]), 1, (0, 0)), form(2000, 0, (0, rng.randint(0, 1)))]
    runs = [run(rng.choice([1800, 2200, 2700, 4600, 5500])) for _ in range(rng.randint(1, 3))]
    request = asked(pieces, runs)
    part = coverable(request, check(request))
    if not part.runs:
        return
    answer = cut_down(Shortage(part), [Surplus("150-6000-1", 2, day(0))], KERF, Limits())
    fewest = fewest_by_trying_all(part, {"150-6000-1": 2})
    assert answer.found.proved and answer.found.turns is (fewest is not None)
    assert fewest is None or answer.found.price == fewest


def test_new_forms_come_from_the_cheapest_bars():
    """Three of 3 m with a cut of 4 mm: two to a bar of 6.1 m, three to one of 9.1 m."""
    request = asked([form(3000)], [run(2500)])
    mill = [MillLength(150, 6100, 5_000, day(0)), MillLength(150, 9100, 7_000, day(0))]
    answer = new_bars(request, [Short("150-3000-1", 3, day(0))], mill, KERF, Limits())
    assert (answer.cents, answer.bars, answer.proved) == (7_000, 1, True)
    [cut] = answer.cuts
    assert (cut.times, [(form.length_mm, form.splayed_ends) for form in cut.forms]) == (1, [(3000, 1)] * 3)


@pytest.mark.parametrize(
    ("mill", "reason"),
    [
        ([], "No mill bar"),
        ([MillLength(200, 6100, 1, day(0))], "No mill bar"),
        ([MillLength(150, 6100, 1, day(1))], "in time"),
        ([MillLength(150, 2900, 1, day(0))], "longer than"),
        ([MillLength(150, 6100, 1, day(0), 1)], "too few"),
    ],
)
def test_where_no_bars_will_do_it_says_why(mill, reason):
    request = asked([form(3000)], [run(2500)])
    answer = new_bars(request, [Short("150-3000-1", 3, day(0))], mill, KERF, Limits())
    assert answer.cuts == () and reason in answer.reason
