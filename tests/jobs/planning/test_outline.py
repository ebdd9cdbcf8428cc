"""Outlines close, are walked one way round, and give area, perimeter and mass."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from PIL import Image, ImageDraw

from jobs.errors import Refused
from jobs.planning.corners import corners_of
from jobs.planning.outline import Side, outline, rectangle
from jobs.planning.outline_text import format_outline, parse_openings, parse_outline
from jobs.planning.panels import check_openings, repeated_marks

from .shapes import L_SHAPE, RIGHT_TRIANGLE, U_SHAPE, panel, square_cornered


@pytest.mark.parametrize(
    ("width", "height", "thickness", "tonnes", "perimeter_m"),
    [
        (6000, 9000, 150, 19.44, 30),
        (7500, 10000, 180, 32.40, 35),
        (3000, 6000, 125, 5.40, 18),
        (8000, 12000, 200, 46.08, 40),
    ],
)
def test_mass_and_perimeter_of_plain_panels(width, height, thickness, tonnes, perimeter_m):
    """Arithmetic at 2400 kg/m3, the usual planning density of reinforced concrete (ACI 347R-14, from memory)."""
    one = panel(width=width, height=height, thickness=thickness)
    assert one.mass_kg() == pytest.approx(tonnes * 1000)
    assert one.outline.perimeter_mm == perimeter_m * 1000


def test_openings_are_deducted_from_mass():
    one = panel(openings=parse_openings("1000x2000@500,0"))
    assert one.mass_kg() == pytest.approx((18 - 2) * 0.15 * 2400)


@given(square_cornered())
def test_area_is_that_of_the_rectangles_it_is_made_of(made):
    shape, area = made
    assert shape.area_mm2 == area
    assert sum(corner.turn for corner in corners_of(shape)) == 360


@given(square_cornered())
def test_an_outline_survives_being_written_and_read(made):
    assert parse_outline(format_outline(made[0])) == made[0]


@given(square_cornered())
def test_area_agrees_with_pixels_painted_by_pillow(made):
    """Pillow's polygon fill is the outside check: one pixel per 100 mm, sampled at centres of pixels."""
    shape, area = made
    left, bottom, right, top = shape.box
    size = int(right - left) // 50 + 2, int(top - bottom) // 50 + 2
    image = Image.new("1", size)
    ring = [((x - left) / 50, (y - bottom) / 50) for x, y in shape.corners]
    ImageDraw.Draw(image).polygon(ring, fill=1)
    painted = sum(image.get_flattened_data() if hasattr(image, "get_flattened_data") else image.getdata()) / (
        255 if max(image.getextrema()) > 1 else 1
    )
    edge = shape.perimeter_mm / 50 + 4
    assert abs(painted - area / 2500) <= edge


def test_a_right_triangle_of_3_4_5():
    """Pythagoras: half of 4 x 3; the angles are arcsin 3/5 and arcsin 4/5."""
    shape = parse_outline(RIGHT_TRIANGLE)
    assert shape.area_mm2 == pytest.approx(6e6, rel=1e-6)
    assert shape.sides[1].turn == pytest.approx(180 - math.degrees(math.asin(4 / 5)))


@pytest.mark.parametrize(("last", "closes"), [(3000, True), (3005, True), (2995, True), (3006, False), (2900, False)])
def test_an_outline_closes_within_5_mm(last, closes):
    sides = [Side(6000), Side(3000), Side(6000), Side(last)]
    if closes:
        assert outline(sides).perimeter_mm == 15000 + last
    else:
        with pytest.raises(Refused, match="does not close") as refused:
            outline(sides)
        assert refused.value.code == "closing"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("6000 3000", "few-sides"),
        ("6000@-90 3000@-90 6000@-90 3000@-90", "clockwise"),
        ("6000 3000 6000 3000 6000", "turn"),
        ("0 3000 0 3000", "side-length"),
        ("6000@0 3000@180 6000 3000", "turn"),
        ("3000@0 3000 3000 6000 3000", "straight"),
        ("6000 3000 2000 4000@-90 2000@-90 4000 2000 3000", "crossing"),
        ("6000 3m 6000 3000", "outline-text"),
        ("6000 3000oo 6000 3000", "outline-text"),
    ],
)
def test_what_is_no_outline_is_refused_with_its_reason(text, code):
    with pytest.raises(Refused) as refused:
        parse_outline(text)
    assert refused.value.code == code
    assert refused.value.sentence.endswith(".")


def test_two_sides_in_one_line_may_differ_in_what_stands_there():
    shape = parse_outline("3000o@0 3000 3000 6000 3000")
    assert shape.area_mm2 == 18e6


def test_inside_and_outside_corners_are_told_apart():
    turns = [corner.turn for corner in corners_of(parse_outline(U_SHAPE))]
    assert turns.count(90) == 6
    assert turns.count(-90) == 2


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("900x2100@0,0", 0),
        ("1000x1000@5500,0", 1),
        ("1000x1000@2500,1500", 1),
        ("2900x1900@50,50", 0),
        ("500x500@100,100; 500x500@300,300", 1),
        ("500x500@100,100; 500x500@600,100", 0),
    ],
)
def test_openings_lie_in_the_panel_and_clear_of_each_other(text, faults):
    one = panel(outline=parse_outline(L_SHAPE), openings=parse_openings(text))
    assert len(check_openings(one)) == faults


def test_a_mark_stands_for_one_panel():
    assert [one.panel for one in repeated_marks([panel("A"), panel("B"), panel("A")])] == ["A"]


def test_a_rectangle_takes_its_edges_in_order():
    assert rectangle(6000, 3000, ["form", "open", "form", "solid"]).sides[3].edge == "solid"
