"""The cover check against facts from outside: skiving stock, change-making, interval partitioning, CP-SAT."""

from __future__ import annotations

import random
from datetime import timedelta

import networkx as nx
import pytest
from ortools.sat.python import cp_model

from jobs.planning.checker import check_answer
from jobs.planning.cover import check
from jobs.planning.overlaps import Periods, most_at_once
from jobs.planning.request import CoverRequest, Rules
from tests.jobs.planning.cover_samples import FIRST, asked, day, every_choice, form, run

EXACT = Rules(0, 0, 9, piece_handling_mm=1, joint_handling_mm=1, ends="any")


def skiving(target: int, lengths: list[int], supply: list[int], objects: int) -> CoverRequest:
    """So many objects of at least `target`, all at once, joined from a supply of lengths."""
    rules = Rules(0, 10 * target, 6, 0, 0, "any")
    pieces = [form(length, 0, (0, count)) for length, count in zip(lengths, supply, strict=True)]
    return asked(pieces, [run(target) for _ in range(objects)], rules, ask="covered")


@pytest.mark.parametrize(
    ("target", "lengths", "supply", "most"),
    [
        # README of ssplib (github.com/wotzlaff): 6+4, 5+3+3, 4+3+3; the optimum proved by HiGHS.
        (10, [6, 5, 4, 3], [1, 1, 2, 4], 3),
        # Instances of J. Martinovic, M. Delorme, M. Iori, G. Scheithauer & N. Strasdat, Computers & Operations
        # Research 113 (2020) 104770, data in wotzlaff/ssp-data: A1/10_150_50 line 1, A1/10_100_1 lines 1 and 2.
        # Optima proved by HiGHS over all minimal patterns; material alone would allow 5, 6 and 6.
        (150, [87, 86, 84, 82, 79, 66, 56, 55], [1, 1, 1, 2, 1, 1, 1, 2], 4),
        (100, [96, 95, 91, 90, 81, 63, 55, 28, 13, 10], [1] * 10, 5),
        (100, [97, 95, 91, 80, 79, 49, 42, 16, 15], [1, 2, 1, 1, 1, 1, 1, 1, 1], 5),
    ],
)
def test_skiving_stock_instances_give_so_many_runs_and_no_more(
    target: int, lengths: list[int], supply: list[int], most: int
):
    """Runs of at least a length from pieces on hand is the skiving stock problem (Zak, ITOR 10, 2003)."""
    assert check(skiving(target, lengths, supply, most)).covered
    one_more = check(skiving(target, lengths, supply, most + 1))
    assert (one_more.covered, one_more.proved) == (False, True)


@pytest.mark.parametrize(
    ("lengths", "total", "fewest"),
    [
        ([1, 3, 4], 6, 2),
        ([1, 10, 25], 30, 3),
        ([1, 5, 10, 20, 25], 40, 2),
        ([1, 5, 10, 21, 25], 63, 3),
    ],
)
def test_a_run_takes_the_fewest_pieces_where_the_longest_first_would_not(lengths: list[int], total: int, fewest: int):
    """Change-making where greedy fails (CLRS, problem 16-1 type; from memory)."""
    answer = check(asked([form(length, 0) for length in lengths], [run(total)], EXACT))
    assert len(answer.runs[0].pieces) == fewest


@pytest.mark.parametrize(("lengths", "never"), [([6, 9, 20], 43), ([3, 5], 7), ([5, 8], 27), ([4, 7, 12], 17)])
def test_the_frobenius_length_cannot_be_made_and_every_longer_one_can(lengths: list[int], never: int):
    """The largest total that no pieces add up to (Sylvester 1884; {6, 9, 20} gives 43; from memory)."""
    pieces = [form(length, 0) for length in lengths]
    answer = check(asked(pieces, [run(never), *(run(never + more) for more in range(1, 8))], EXACT))
    assert [item.side for item in answer.impossible] == ["1"]
    assert len(answer.runs) == 7


LECTURES = [(90, 105), (90, 125), (90, 105), (110, 125), (110, 140)]
LECTURES += [(130, 145), (130, 145), (140, 165), (150, 165), (150, 165)]


def pieces_needed(spans: list[tuple[int, int]]) -> int:
    """How many of one length a plan of one-piece runs on these days loads."""
    answer = check(asked([form(6000)], [run(5500, start, until) for start, until in spans]))
    assert answer.proved
    return answer.load[0].count


def test_ten_lectures_need_three_rooms():
    """J. Kleinberg & E. Tardos, Algorithm Design 4.1, slides on interval partitioning: 3 (times from memory).
    Were an end to clash with a start on the same instant it would be 4: days are half-open."""
    assert pieces_needed(LECTURES) == 3
    assert pieces_needed([(start, until + 1) for start, until in LECTURES]) == 4


@pytest.mark.parametrize(("lag", "sets"), [(0, 2), (1, 3), (2, 4), (3, 4)])
def test_a_longer_turnaround_needs_more_sets(lag: int, sets: int):
    """Pours [0,3) [1,4) [3,6) [4,7) [6,9) [7,10) with a lag to clean: counted by sweep."""
    pours = [(0, 3), (1, 4), (3, 6), (4, 7), (6, 9), (7, 10)]
    assert pieces_needed([(start, until + lag) for start, until in pours]) == sets


@pytest.mark.parametrize("seed", range(12))
def test_the_greatest_overlap_is_the_largest_clique(seed: int):
    """Interval graphs are perfect (Golumbic 1980): depth = clique number, by networkx."""
    rng = random.Random(seed)
    spans = [(start, start + rng.randint(1, 6)) for start in (rng.randint(0, 20) for _ in range(14))]
    graph = nx.Graph()
    graph.add_nodes_from(range(len(spans)))
    graph.add_edges_from(
        (a, b) for a in range(len(spans)) for b in range(a) if spans[a][0] < spans[b][1] and spans[b][0] < spans[a][1]
    )
    clique = max(len(found) for found in nx.find_cliques(graph))
    assert pieces_needed(spans) == clique
    assert most_at_once([(day(start), day(until)) for start, until in spans]) == clique


@pytest.mark.parametrize("seed", range(100))
def test_every_day_left_out_is_outdone_by_a_day_kept(seed: int):
    rng = random.Random(seed)
    spans = [
        (day(start), day(start + rng.randint(1, 5))) for start in (rng.randint(0, 9) for _ in range(rng.randint(1, 8)))
    ]
    periods = Periods.of(spans, [day(rng.randint(0, 12)) for _ in range(2)])
    stock = [rng.randint(0, 2) for _ in periods.days]
    active = [{n for n, (start, until) in enumerate(spans) if start <= first < until} for first in periods.days]
    kept = periods.needed(stock)
    for at in range(len(active)):
        assert any(active[at] <= active[other] and stock[other] <= stock[at] for other in kept)
    assert all(active)


def mid_size(seed: int) -> CoverRequest:
    """Thirty runs over a fortnight from six types, scarce at times, with a delivery and a return."""
    rng = random.Random(seed)
    pieces = []
    for length in rng.sample(range(1000, 6001, 500), 6):
        first, later = rng.randint(1, 9), rng.randint(1, 9)
        pieces.append(form(length, rng.choice([0, 1, 1, 1]), (0, first), (7, later)))
    runs = []
    for _ in range(30):
        start = rng.randint(0, 12)
        runs.append(run(rng.randrange(2400, 8000, 100), start, start + rng.randint(2, 4), seats=rng.choice([0, 1, 1])))
    return asked(pieces, runs)


def by_cp_sat(request: CoverRequest) -> tuple[int, int]:
    """Least shortage, then least cost, by CP-SAT over choices the checker passes, day by day."""
    model = cp_model.CpModel()
    rules = request.rules
    picks = []
    for item in request.runs:
        choices = every_choice(request, item)
        picks.append([(choice, model.new_bool_var("")) for choice in choices])
        model.add_exactly_one(variable for _, variable in picks[-1])
    most, lack = {}, {}
    last = max(item.until for item in request.runs)
    for piece in request.pieces:
        most[piece.code] = model.new_int_var(0, 200, "")
        lack[piece.code] = model.new_int_var(0, 200, "")
        today = FIRST
        while today < last:
            use = sum(
                choice.count(piece.code) * variable
                for item, options in zip(request.runs, picks, strict=True)
                if item.start <= today < item.until
                for choice, variable in options
            )
            model.add(use <= most[piece.code])
            model.add(use <= lack[piece.code] + piece.count_on(today))
            today += timedelta(days=1)
    shortage = sum(piece.length_mm * lack[piece.code] for piece in request.pieces)
    joints = sum((len(choice) - 1) * variable for options in picks for choice, variable in options)
    cost = joints * rules.joint_handling_mm + sum(
        (piece.length_mm + rules.piece_handling_mm) * most[piece.code] for piece in request.pieces
    )
    least_short = _least(model, shortage)
    model.add(shortage <= least_short)
    return least_short, _least(model, cost)


def _least(model: cp_model.CpModel, value: cp_model.LinearExprT) -> int:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    solver.parameters.max_time_in_seconds = 60
    model.minimize(value)
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_thirty_runs_agree_with_cp_sat(seed: int):
    """Google OR-Tools' CP-SAT, to proved optimality."""
    request = mid_size(seed)
    answer = check(request)
    assert check_answer(request, answer) == []
    assert not answer.impossible
    short, cost = by_cp_sat(request)
    assert (answer.short_mm, answer.short_bound_mm) == (short, short)
    assert answer.cost_bound_mm <= cost <= answer.cost_mm
    assert answer.proved
