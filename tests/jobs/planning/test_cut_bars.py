"""Cutting mill bars against published cutting stock instances, each with its source, and against small proofs."""

from __future__ import annotations

import json
import math
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from jobs.errors import BadRequest
from jobs.planning.cut_bars import cut_bars
from jobs.planning.cut_patterns import every_cut
from jobs.planning.cutting import Bar, CutAnswer, CutRequest, Objective, Wanted, parse_cut_request
from jobs.planning.schemas import schema

PAPER = [1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200]
PAPER_COUNTS = [22, 25, 12, 14, 18, 18, 20, 10, 12, 14, 16, 18, 20]


def cut(
    bars: int | list[Bar], lengths: list[int], counts: list[int], kerf: int = 0, objective: Objective = "bars"
) -> CutAnswer:
    """Cut and check the cutting list by hand: every bar within its length, every piece as often as wanted."""
    kinds = tuple([Bar(bars)] if isinstance(bars, int) else bars)
    wanted = tuple(Wanted(length, count) for length, count in zip(lengths, counts, strict=True))
    answer = cut_bars(CutRequest(kinds, wanted, kerf, objective))
    made: Counter[int] = Counter()
    for pattern in answer.patterns:
        assert sum(pattern.pieces) + kerf * (len(pattern.pieces) - 1) <= pattern.bar_mm
        for length in pattern.pieces:
            made[length] += pattern.times
    assert made == +Counter(dict(zip(lengths, counts, strict=True)))
    assert answer.bars_used == sum(pattern.times for pattern in answer.patterns)
    return answer


@pytest.mark.parametrize(
    ("source", "bar", "lengths", "counts", "best"),
    [
        # Wikipedia, "Cutting-stock problem"; OR-Tools' MathOpt example prints 73 as best known.
        ("paper rolls", 5600, PAPER, PAPER_COUNTS, 73),
        # V. Chvatal, Linear Programming (1983) ch. 13: 453 from memory; data as in SAS/OR OPTMODEL example 4.5,
        # JuMP's and GAMS' cutting stock examples. The relaxation is 452.25.
        ("Chvatal", 100, [45, 36, 31, 14], [97, 610, 395, 211], 453),
        ("Chvatal with 35 for 36", 100, [45, 35, 31, 14], [97, 610, 395, 211], 453),
        # R. Fourer et al., AMPL, cut.mod; 47 from memory, proved by HiGHS and CP-SAT.
        ("AMPL cut.mod", 110, [20, 45, 50, 55, 75], [48, 35, 24, 10, 8], 47),
        # SCIP's examples, "CuttingStockExample2"; proved by HiGHS and CP-SAT.
        ("SCIP example 2", 9, [2, 3, 4, 5, 6, 7, 8], [4, 2, 6, 6, 2, 2, 2], 13),
        # W. Winston, Operations Research, Woodco; 19 from memory.
        ("Woodco", 17, [3, 5, 9], [25, 20, 15], 19),
        # AMPL Java API, CuttingStock; first-fit decreasing takes 19.
        ("AMPL roll 6450", 6450, [677, 756, 1746, 1876], [10, 40, 33, 10], 18),
        # pyvpsolver 3.1.4, csp.vbp; first-fit decreasing takes 34.
        ("arc-flow example", 5180, [1120, 1250, 520, 1066, 1000, 1150], [9, 5, 91, 18, 11, 64], 33),
        # README of the PyPI package cutting-stock: 16 bars of 12 m, 23.9 m waste; material alone would take 15.
        ("12 m bars", 12000, [3400, 3000, 2700], [34, 13, 5], 16),
        # PySCIPOpt, discussion 851.
        ("smallest", 4, [3, 2, 1], [3, 4, 3], 5),
        ("smallest, one more", 4, [3, 2, 1], [3, 4, 4], 6),
        # Textbook exercises "Bellows Lumber Yard" and "Home Improvement Building Supply".
        ("lumber yard", 25, [7, 9, 11], [5000, 1200, 300], 2167),
        ("building supply", 25, [7, 9, 10], [700, 1200, 500], 875),
        # MiniZinc, cutstock.mzn (J. Puchinger 2007).
        ("MiniZinc", 10, [7, 5, 3], [2, 2, 4], 4),
        # C. Goulimis, Counterexamples in the CSP, arXiv 2004.01937 (after Scheithauer & Terno 1995): the
        # relaxation is 259/132 = 1.96, and two bars are not enough.
        ("rounding up is wrong", 132, [44, 33, 12], [2, 3, 6], 3),
        # S. Martello & P. Toth, Knapsack Problems (1990) ch. 8: L1 = 3, L2 = 4 = optimum; from memory.
        ("Martello and Toth", 100, [70, 60, 50, 33, 11, 7, 3], [1, 1, 1, 3, 1, 1, 1], 4),
    ],
)
def test_published_cutting_stock(source: str, bar: int, lengths: list[int], counts: list[int], best: int):
    answer = cut(bar, lengths, counts)
    assert (answer.bars_used, answer.bound, answer.proved) == (best, best, True), source


def test_the_paper_rolls_waste_is_the_published_share():
    """0.401 % (Wikipedia, "Cutting-stock problem")."""
    answer = cut(5600, PAPER, PAPER_COUNTS)
    needed = sum(length * count for length, count in zip(PAPER, PAPER_COUNTS, strict=True))
    assert needed == 407_160
    assert round(100 * (answer.length_used_mm / needed - 1), 3) == 0.403
    assert round(100 * (1 - needed / answer.length_used_mm), 3) == 0.401


def test_there_are_308_ways_to_cut_the_paper_roll():
    """Wikipedia, "Cutting-stock problem"; 213 of them take no further piece."""
    lengths = sorted(PAPER, reverse=True)
    most = [5600 // length for length in lengths]
    assert len(every_cut(lengths, most, 5600, 1000, maximal=False) or []) == 308
    assert len(every_cut(lengths, most, 5600, 1000) or []) == 213


def test_two_lengths_of_bar_at_least_total_length():
    """Gueret, Prins & Sevaux, Applications of Optimization with Xpress-MP 9.6 (desk legs): 75 300 for 75 280."""
    answer = cut([Bar(150), Bar(200)], [40, 60, 70], [432, 500, 400], objective="length")
    assert (answer.length_used_mm, answer.bound, answer.proved) == (75_300, 75_300, True)


def test_a_limited_stock_of_two_lengths_is_cut_without_any_remainder():
    """J. Kantor, CBE40455 notebook 05.07: three bars of 15 m and three of 10 m."""
    bars = [Bar(15, count=3), Bar(10, count=3)]
    wanted = ([3, 2, 6, 1], [7, 6, 4, 3])
    by_length = cut(bars, *wanted, objective="length")
    assert (by_length.length_used_mm, by_length.proved) == (60, True)
    assert cut(bars, *wanted).bars_used == 5


def test_least_cost_is_not_fewest_bars():
    """Gilmore & Gomory, Operations Research 9 (1961), worked example: 170; from memory."""
    answer = cut([Bar(9, 10), Bar(6, 7), Bar(5, 6)], [2, 3, 4], [20, 10, 20], objective="cost")
    assert (answer.cost, answer.bound, answer.proved) == (170, 170, True)


@pytest.mark.parametrize(
    ("lengths", "counts", "bar", "kerf", "best"),
    [
        ([1500], [10], 6000, 0, 3),
        ([1500], [10], 6000, 4, 4),
        ([2000], [9], 6000, 0, 3),
        ([2000], [9], 6000, 3, 5),
        (PAPER, PAPER_COUNTS, 5600, 5, 74),
    ],
)
def test_the_saw_takes_its_kerf_between_pieces_only(
    lengths: list[int], counts: list[int], bar: int, kerf: int, best: int
):
    """n pieces fit when their lengths and n - 1 kerfs do (algebra)."""
    assert cut(bar, lengths, counts, kerf).bars_used == best


OPTIMA = {7: 49, 8: 50, 12: 48, 15: 48, 19: 49}


@pytest.mark.parametrize(("number", "best"), OPTIMA.items())
def test_bin_packing_instances_reach_their_proved_optimum(number: int, best: int):
    """E. Falkenauer's u120 instances from J.E. Beasley's OR-Library; optima: BPPLib (Delorme, Iori & Martello
    2018). The file's own best known for u120_08 and u120_19, 51 and 50, are beaten."""
    lines = (Path(__file__).parent / "published" / "orlib_binpack1.txt").read_text().split()
    at = 1
    for _ in range(number):
        at += 4 + int(lines[at + 2])
    assert lines[at] == f"u120_{number:02}"
    items = Counter(map(int, lines[at + 4 : at + 4 + int(lines[at + 2])]))
    answer = cut(int(lines[at + 1]), list(items), list(items.values()))
    assert (answer.bars_used, answer.proved) == (best, True)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(2, 30), st.integers(1, 6)), min_size=1, max_size=5, unique_by=lambda p: p[0]),
    st.integers(0, 3),
)
def test_the_bound_lies_between_material_and_first_fit(pieces: list[tuple[int, int]], kerf: int):
    """L1 <= optimum <= first-fit decreasing (Gilmore & Gomory 1961)."""
    answer = cut(40, [length for length, _ in pieces], [count for _, count in pieces], kerf)
    material = sum((length + kerf) * count for length, count in pieces) / (40 + kerf)
    assert answer.proved
    assert math.ceil(material - 1e-9) <= answer.bars_used <= _first_fit(pieces, 40 + kerf, kerf)


def _first_fit(pieces: list[tuple[int, int]], room: int, kerf: int) -> int:
    left: list[int] = []
    for length in sorted((length + kerf for length, count in pieces for _ in range(count)), reverse=True):
        at = next((n for n, space in enumerate(left) if space >= length), None)
        if at is None:
            left.append(room - length)
        else:
            left[at] -= length
    return len(left)


def test_too_few_bars_are_said_to_be_too_few():
    with pytest.raises(BadRequest, match="cannot give all the pieces"):
        cut([Bar(6000, count=1)], [2000], [4])


def test_nothing_wanted_takes_no_bars():
    answer = cut(6000, [2000], [0])
    assert (answer.bars_used, answer.bound, answer.proved, answer.patterns) == (0, 0, True, ())


@pytest.mark.parametrize(
    ("data", "field"),
    [
        ({"bars": [], "pieces": []}, "bars"),
        ({"bars": [{"length_mm": 6000}]}, "pieces"),
        ({"bars": [{"length_mm": 0}], "pieces": []}, "bars[0].length_mm"),
        ({"bars": [{"length_mm": 9}], "pieces": [{"length_mm": 10, "count": 1}]}, "pieces[0].length_mm"),
        ({"bars": [{"length_mm": 9}], "pieces": [], "kerf_mm": -1}, "kerf_mm"),
        ({"bars": [{"length_mm": 9}], "pieces": [], "objective": "waste"}, "objective"),
        ({"bars": [{"length_mm": 9}], "pieces": [], "objective": "cost"}, "bars[0].cost"),
        ({"bars": [{"length_mm": 9}], "pieces": [{"length_mm": 3, "count": True}]}, "pieces[0].count"),
    ],
)
def test_a_bad_cutting_request_is_refused_by_field(data: dict[str, object], field: str):
    with pytest.raises(BadRequest) as refused:
        parse_cut_request(data)
    assert refused.value.field == field


def test_the_answer_keeps_to_its_published_schema():
    for name in ("cut_bars.request", "cut_bars.answer"):
        Draft202012Validator.check_schema(schema(name))
    answer = json.loads(json.dumps(cut(6000, [2000], [4], kerf=3).as_json()))
    Draft202012Validator(schema("cut_bars.answer")).validate(answer)
    assert answer["cost"] is None
