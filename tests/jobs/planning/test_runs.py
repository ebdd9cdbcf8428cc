"""How runs end and what bounds their pieces keep. Trade facts here: common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.planning.corners import check_corners, corners_of
from jobs.planning.outline import rectangle
from jobs.planning.outline_text import parse_outline
from jobs.planning.runs import RunRules, runs_of

from .shapes import L_SHAPE, RIGHT_TRIANGLE, U_SHAPE, panel, square_cornered

RULES = RunRules(corner_allowance_mm=100, max_overrun_mm=900, filler_mm=80)


def shaped(text, **more):
    return panel(outline=parse_outline(text), **more)


def test_every_run_of_a_rectangle_seats_at_one_end_and_passes_at_the_other():
    runs = runs_of(panel(), RULES)
    assert [(run.start, run.end) for run in runs] == [("seats", "passes")] * 4
    assert [(run.least_mm, run.greatest_mm) for run in runs[:2]] == [(6100, 7000), (3100, 4000)]


def test_the_other_hand_seats_at_the_other_end():
    runs = runs_of(panel(seats_at="end"), RULES)
    assert {(run.start, run.end, run.laid_from) for run in runs} == {("passes", "seats", "end")}


@given(square_cornered(), st.sampled_from(["start", "end"]))
def test_every_outside_corner_has_one_seat_and_one_pass_and_inside_ones_neither(made, hand):
    runs = {run.side: run for run in runs_of(panel(outline=made[0], seats_at=hand), RULES)}
    for corner in corners_of(made[0]):
        ends = sorted([runs[corner.before].end, runs[corner.after].start])
        assert ends == (["passes", "seats"] if corner.turn == 90 else ["stops", "stops"])


@given(square_cornered())
def test_a_run_is_closed_exactly_when_neither_end_passes_or_is_free(made):
    for run in runs_of(panel(outline=made[0]), RULES):
        assert run.closed == ({run.start, run.end} <= {"seats", "stops"})
        assert run.seats in (0, 1, 2)
        if run.closed:
            assert run.greatest_mm == run.length_mm
            assert run.least_mm == max(0, run.length_mm - RULES.filler_mm)
        else:
            assert run.least_mm == run.length_mm + (100 if "passes" in (run.start, run.end) else 0)
            assert run.greatest_mm <= run.length_mm + 1000


def test_a_run_between_an_outside_and_an_inside_corner_is_closed_and_still_seats():
    run = runs_of(shaped(L_SHAPE), RULES)[2]
    assert (run.start, run.end, run.closed, run.seats) == ("seats", "stops", True, 1)
    assert (run.corner_allowance_mm, run.max_overrun_mm) == (-80, 80)


def test_next_to_an_open_side_an_end_is_free_and_next_to_something_solid_it_stops():
    runs = runs_of(panel(outline=rectangle(6000, 3000, ["form", "open", "form", "solid"])), RULES)
    assert [(run.side, run.start, run.end) for run in runs] == [(0, "stops", "free"), (2, "free", "stops")]
    assert [run.corner_allowance_mm for run in runs] == [0, 0]


def test_a_run_between_two_solid_sides_is_closed_and_seats_nowhere():
    run = runs_of(panel(outline=rectangle(6000, 3000, ["form", "solid", "form", "solid"])), RULES)[0]
    assert (run.closed, run.seats) == (True, 0)


def test_a_skew_corner_takes_no_seat_and_no_clamp_and_is_flagged():
    one = shaped(RIGHT_TRIANGLE)
    assert [run.seats for run in runs_of(one, RULES)] == [0, 1, 0]
    assert [corner.takes_clamp for corner in corners_of(one.outline)] == [False, True, False]
    assert [found.code for found in check_corners(one)] == ["skew-corner"] * 2


def test_a_skew_corner_beside_an_open_side_is_no_matter():
    assert check_corners(shaped("4000 3000@126.869898 5000o@143.130102")) == []


def test_overrun_is_cut_to_what_the_panel_itself_leaves_clear():
    """The top of one arm runs on across the gap of 3 m and meets the other arm."""
    runs = runs_of(shaped(U_SHAPE), RunRules(corner_allowance_mm=100, max_overrun_mm=5000))
    assert runs[2].side == 2
    assert runs[2].greatest_mm == 1500 + 3000
    assert runs[0].greatest_mm == 6000 + 5100


def test_the_form_of_the_run_before_takes_its_width_at_an_inside_corner():
    run = runs_of(shaped(L_SHAPE), replace(RULES, form_width_mm=50))[3]
    assert (run.length_mm, run.starts_mm) == (950, 50)


@pytest.mark.parametrize("section", [125, 150, 175, 200])
def test_the_section_is_the_thickness_unless_given(section):
    """Usual sections lie between 125 and 200 mm (common practice, no source)."""
    assert {run.section_mm for run in runs_of(panel(thickness=section), RULES)} == {section}
    assert runs_of(panel(thickness=140, section_given_mm=section), RULES)[0].section_mm == section


def test_the_chamfer_needs_no_allowance():
    """About 15 mm inside the face line, so a side is formed at its own length (common practice, no source)."""
    assert [run.length_mm for run in runs_of(panel(), RULES)] == [6000, 3000, 6000, 3000]
