"""What a plan must flag about stacks. Defaults are common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.planning import placing
from jobs.planning.outline_text import parse_outline
from jobs.planning.placing import below, place, placed_ring
from jobs.planning.stacks import (
    StackChecks,
    by_stack,
    check_stacks,
    lifting_order,
    not_cleaned,
    steps,
)

from .shapes import L_SHAPE, U_SHAPE, panel

CHECKS = StackChecks()


def low(**more):
    return panel("A1", stack="A", level=1, **more)


def high(**more):
    return panel("A2", stack="A", level=2, **more)


def codes(*panels, checks=CHECKS, **more):
    return [found.code for found in check_stacks(panels, checks, **more)]


@pytest.mark.parametrize(("width", "flags"), [(6000, []), (5400, []), (5398, ["step-in"] * 2)])
def test_a_step_in_over_300_mm_on_a_side_is_flagged(width, flags):
    assert codes(low(), high(width=width)) == flags


def test_an_offset_moves_the_step_from_one_side_to_the_other():
    assert steps(low(), high(width=5600, offset=(150, 0))) == {0: (0, 0), 1: (50, 50), 2: (0, 0), 3: (350, 350)}


@pytest.mark.parametrize(("width", "offset"), [(6002, (0, 0)), (5800, (101, 0)), (6000, (0, -5))])
def test_any_overhang_is_flagged(width, offset):
    assert set(codes(low(), high(width=width, offset=offset))) == {"overhang"}


def test_a_centred_panel_an_odd_millimetre_smaller_does_not_overhang():
    assert codes(low(), high(width=5999)) == []


def test_a_quarter_turn_swaps_width_and_height():
    assert codes(low(), high(width=3000, height=6000, quarter_turns=1)) == []
    assert "overhang" in codes(low(), high(width=3000, height=6000))


def test_a_panel_that_bridges_a_notch_below_is_flagged():
    found = codes(low(outline=parse_outline(U_SHAPE)), high(width=6000, height=4000))
    assert "overhang" in found


def test_the_same_outline_on_itself_is_flagged_for_nothing():
    for text in (L_SHAPE, U_SHAPE):
        assert codes(low(outline=parse_outline(text)), high(outline=parse_outline(text))) == []


def test_a_panel_in_the_foot_of_an_l_is_measured_to_its_inside_edges():
    """1.0 m by 2.0 m in the right of the foot, which is 3 m by 2 m: 2 m clear on its left is not an edge."""
    upper = high(width=2800, height=1800, offset=(1500, -500))
    assert steps(low(outline=parse_outline(L_SHAPE)), upper)[0] == (100, 100)
    assert steps(low(outline=parse_outline(L_SHAPE)), upper)[1] == (100, 100)


def test_section_other_than_thickness_is_flagged():
    assert codes(low(section_given_mm=175)) == ["section"]


@pytest.mark.parametrize(("levels", "flags"), [((1, 2), 0), ((1, 3), 1), ((1, 1), 2), ((2, 3), 1)])
def test_levels_out_of_order_are_flagged(levels, flags):
    first, second = levels
    assert codes(replace(low(), level=first), replace(high(), level=second)).count("level-order") == flags


def test_a_level_on_a_panel_cast_without_inserts_is_flagged():
    assert codes(low(), high(), without_inserts={"A1"}) == ["no-inserts"]


def test_each_check_is_a_setting():
    none = StackChecks(None, None, False, False, False, False, False)
    bad = replace(high(width=7000, section_given_mm=200), level=4)
    assert codes(low(), bad, checks=none, without_inserts={"A1"}) == []
    assert codes(low(), high(width=5398), checks=replace(CHECKS, max_step_in_mm=301)) == []
    assert codes(low(), high(width=6002), checks=replace(CHECKS, max_overhang_mm=1)) == []


def test_a_form_cast_twice_without_cleaning_has_its_finding():
    """Channel is cleaned after every pour (common practice, no source)."""
    assert not_cleaned(["7K2M"], "P3").code == "not-cleaned"


def test_the_top_panel_is_the_first_to_be_lifted():
    """Tilt-Up Concrete Association FAQ, Panel Forming: the top panel on a stack is the first to be placed."""
    stack = by_stack([high(), low()])["A"]
    assert [one.mark for one in stack] == ["A1", "A2"]
    assert [one.mark for one in lifting_order(stack)] == ["A2", "A1"]


@given(st.integers(0, 3), st.integers(-400, 400), st.integers(-400, 400))
def test_a_placed_panel_keeps_its_middle_and_its_size(turns, x, y):
    upper = high(width=5200, height=2400, offset=(x, y), quarter_turns=turns)
    ring = placed_ring(upper, low())
    xs, ys = [p[0] for p in ring], [p[1] for p in ring]
    assert ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2) == (3000 + x, 1500 + y)
    assert {max(xs) - min(xs), max(ys) - min(ys)} == {5200, 2400}
    assert place(upper, low()).quarter_turns == turns


@given(st.integers(0, 60), st.integers(0, 30), st.sampled_from([(0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)]))
def test_the_short_way_on_a_rectangle_finds_what_the_general_way_finds(x, y, way):
    """The oracle is the same module's walk round any outline, with the short way out of reach."""
    ring, at = panel(width=6000, height=3000).outline.corners, (x * 100.0, y * 100.0)
    short = below(at, way, ring)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(placing, "_below_in_box", lambda *asked: None)
        assert below(at, way, ring) == short
