"""The drawing of a panel: to scale, described in words, with nothing a strict page forbids."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings

from jobs.planning.drawing import draw_panel
from jobs.planning.drawing_key import draw_key
from jobs.planning.outline_text import parse_openings, parse_outline
from jobs.planning.runs import RunRules
from jobs.planning.seeded_rules import seeded_rules
from jobs.planning.takeoff import TakeoffRequest, take_off

from .shapes import L_SHAPE, panel, square_cornered

SVG = "{http://www.w3.org/2000/svg}"
PIECES = {"A1/1": [4000, 2500], "A1/2": [3500], "A1/3": [3000, 1000, 2500], "A1/4": [3500]}


def drawn(one, lower=None, **more):
    request = TakeoffRequest([one], seeded_rules(), RunRules(100, 900), **more)
    return ElementTree.fromstring(draw_panel(take_off(request).panels[0], lower, "p1"))


def of_class(root, name):
    return [element for element in root.iter() if element.get("class") == name]


def length(line):
    (ax, ay), (bx, by) = ((float(line.get(f"x{n}")), float(line.get(f"y{n}"))) for n in (1, 2))
    return ((ax - bx) ** 2 + (ay - by) ** 2) ** 0.5


def test_a_plain_panel_has_four_seats_and_a_dot_for_every_bracket():
    root = drawn(panel())
    assert len(of_class(root, "seat")) == 4
    assert len(of_class(root, "bracket")) == 18
    assert of_class(root, "joint") == []


def test_forms_are_drawn_to_one_scale():
    forms = sorted({round(length(line)) for line in of_class(drawn(panel()), "edge-form") if length(line) > 20})
    assert forms[1] == pytest.approx(2 * forms[0], abs=2)


def test_paper_hides_no_mark_of_a_drawing():
    """A class that the style for print takes off the page must be none of a drawing's."""
    style = Path("templates/assets/print.css").read_text()
    hidden = {
        name for rule in re.findall(r"([^{}]+)\{\s*display: none", style) for name in re.findall(r"\.([\w-]+)", rule)
    }
    root = drawn(panel(), pieces=PIECES)
    assert "no-print" in hidden and not hidden & {element.get("class") for element in root.iter()}


def test_joints_and_pieces_appear_once_composed():
    root = drawn(panel(), pieces=PIECES)
    assert len(of_class(root, "joint")) == 3
    assert sorted(words.text for words in of_class(root, "piece-length")) == sorted(
        ["4.0", "2.5", "3.5", "3.0", "1.0", "2.5", "3.5"]
    )


def test_it_is_described_in_words():
    root = drawn(panel(), pieces=PIECES)
    words = root.find(f"{SVG}desc").text
    assert root.get("aria-labelledby") == "p1-title p1-desc"
    assert (
        "Side 1, 6.0 m: seats at its start, passes at its end, pieces 4.0 m + 2.5 m from the seat, overrun 0.5 m"
        in words
    )
    assert "150 mm thick, 6.48 t" in words


def test_bare_sides_openings_and_the_panel_below_are_shown():
    shape = parse_outline("6000 2000o 3000@-90 1000s 3000 3000")
    one = panel(outline=shape, openings=parse_openings("900x1200@500,300"))
    root = drawn(one, lower=panel("A0"), site_made={"A1/5"})
    for name in ("open-side", "solid-side", "site-made", "opening", "below"):
        assert of_class(root, name), name


def test_a_mark_cannot_break_out_of_the_drawing():
    root = drawn(panel("<script>alert(1)</script>"))
    assert root.findall(f".//{SVG}script") == []


@settings(max_examples=15)
@given(square_cornered())
def test_any_panel_is_drawn_within_its_sheet_with_no_style_or_script(made):
    root = drawn(panel(outline=made[0]))
    _, _, width, height = map(float, root.get("viewBox").split())
    for element in root.iter():
        assert element.get("style") is None
        assert not any(name.startswith("on") for name in element.attrib)
        for name in ("x1", "x2", "cx", "y1", "y2", "cy"):
            limit = height if "y" in name else width
            if element.get(name):
                assert -0.5 <= float(element.get(name)) <= limit + 0.5


def test_each_side_says_its_number_and_length():
    root = drawn(panel(outline=parse_outline(L_SHAPE)))
    assert {words.text for words in of_class(root, "side-length")} >= {"1: 6.0 m", "4: 1.0 m"}


def test_the_key_names_every_mark():
    root = ElementTree.fromstring(draw_key("k1"))
    words = [text.text for text in root.iter(f"{SVG}text")]
    assert words[:5] == ["edge form", "seat", "joint", "bracket", "overrun"]
    assert all(word in root.find(f"{SVG}title").text for word in words)
