"""Inserts below and brackets above: each finds the other."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from jobs.planning.brackets import Spacing, bracket_positions, check_brackets
from jobs.planning.inserts import Insert, brackets_on_inserts, inserts_for
from jobs.planning.outline import rectangle
from jobs.planning.outline_text import parse_outline
from jobs.planning.runs import RunRules, runs_of

from .shapes import RIGHT_TRIANGLE, panel, square_cornered

EVERY = Spacing(1200, 300)


def with_brackets(upper):
    runs = runs_of(upper, RunRules())
    return runs, {run.key: bracket_positions(run, EVERY) for run in runs}


def inserts(lower, upper):
    return inserts_for(lower, upper, *with_brackets(upper))


def test_inserts_stand_under_the_brackets_on_the_side_below_that_faces_the_same_way():
    places, findings = inserts(panel("A1"), panel("A2", width=5600, height=2800))
    first = {one.run: one for one in reversed(places)}
    assert (first["A2/1"].insert, first["A2/1"].step_mm) == (Insert(0, 500), 100)
    assert (first["A2/2"].insert, first["A2/2"].step_mm) == (Insert(1, 400), 200)
    assert findings == ()


def test_inserts_of_a_turned_panel_go_in_the_sides_it_then_faces():
    places, _ = inserts(panel("A1"), panel("A2", width=3000, height=6000, quarter_turns=1))
    assert {one.insert.side for one in places if one.run == "A2/1"} == {1}


@given(st.integers(0, 3), st.integers(-200, 200), st.integers(-200, 200))
def test_brackets_come_back_from_the_inserts_made_for_them(turns, x, y):
    width, height = (5400, 2400) if turns % 2 == 0 else (2400, 5400)
    upper = panel("A2", width=width, height=height, quarter_turns=turns, offset=(x, y))
    runs, brackets = with_brackets(upper)
    places, _ = inserts_for(panel("A1"), upper, runs, brackets)
    fixed, findings = brackets_on_inserts(panel("A1"), upper, runs, [one.insert for one in places])
    assert fixed == brackets
    assert findings == ()


@given(square_cornered())
def test_a_panel_on_its_like_has_an_insert_for_every_bracket(made):
    lower, upper = panel("A1", outline=made[0]), panel("A2", outline=made[0])
    runs, brackets = with_brackets(upper)
    places, findings = inserts_for(lower, upper, runs, brackets)
    assert findings == ()
    assert len(places) == sum(map(len, brackets.values()))
    assert brackets_on_inserts(lower, upper, runs, [one.insert for one in places])[0] == brackets


def test_a_bracket_over_a_side_with_no_form_has_no_insert_and_is_flagged():
    lower = panel("A1", outline=rectangle(6000, 3000, ["form", "open", "form", "form"]))
    _, findings = inserts(lower, panel("A2"))
    assert {(one.code, one.side) for one in findings} == {("bracket-without-insert", 1)}


def test_a_bracket_with_a_skew_side_below_has_no_insert_and_is_flagged():
    lower = panel("A1", outline=parse_outline(RIGHT_TRIANGLE))
    _, findings = inserts(lower, panel("A2", width=1000, height=1000, offset=(1000, -500)))
    assert "bracket-without-insert" in {one.code for one in findings}


def test_a_panel_changed_after_the_one_below_is_cast_stands_on_the_inserts_there_are_or_is_flagged():
    places, _ = inserts(panel("A1"), panel("A2"))
    cast = [one.insert for one in places]
    shorter = panel("A2", width=5700, height=3000)
    runs, _ = with_brackets(shorter)
    fixed, findings = brackets_on_inserts(panel("A1"), shorter, runs, cast)
    assert fixed["A2/1"] == (150, 1230, 2310, 3390, 4470, 5550)
    assert findings == ()
    assert check_brackets(runs[0], fixed["A2/1"], EVERY) == []


def test_inserts_under_no_side_of_the_panel_above_are_noted_and_a_run_without_any_is_flagged():
    short = panel("A2", width=3000, height=3000)
    runs, _ = with_brackets(short)
    fixed, findings = brackets_on_inserts(panel("A1"), short, runs, [Insert(0, 200), Insert(0, 3000)])
    assert fixed["A2/1"] == (1500,)
    assert [one.code for one in findings] == ["insert-unused"]
    below = runs_of(panel("A1", seats_at="end"), RunRules())
    (told,) = brackets_on_inserts(panel("A1"), short, runs, [Insert(0, 200)], below)[1]
    assert "the insert 5,800 mm from the seat is under no run" in told.sentence
    assert [one.code for one in check_brackets(runs[1], fixed["A2/2"], EVERY)] == ["bracket-count"]
