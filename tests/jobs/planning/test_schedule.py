"""Panel schedules: cells into panels, every faulty cell said at once with what to do."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.planning.schedule import COLUMNS, parse_schedule

GOOD = {"mark": "A1", "width": "6000", "height": "3000", "thickness": "150"}


def row(**cells):
    return GOOD | {name.replace("_", " "): text for name, text in cells.items()}


def faults(*rows):
    return [(found.line, found.column) for found in parse_schedule(rows).findings]


def test_a_plain_row_is_a_panel():
    found = parse_schedule([row(pour_date="2027-03-05", stack="S1", level="2", offset_x="-20", quarter_turn="90")])
    one = found.panels[0]
    assert found.findings == ()
    assert (one.mark, one.section_mm, one.stack, one.level, one.pour) == ("A1", 150, "S1", 2, "2027-03-05")
    assert (one.offset, one.quarter_turns, found.casts) == ((-20, 0), 1, {"2027-03-05": date(2027, 3, 5)})


def test_headings_may_be_written_as_people_write_them():
    assert len(parse_schedule([{"Mark": "A1", " WIDTH": "6000", "Height ": "3000", "thickness": "150"}]).panels) == 1


def test_an_outline_takes_the_place_of_width_and_height():
    one = parse_schedule([row(width="", height="", outline="6000 2000o 3000@-90 1000 3000s 3000")]).panels[0]
    assert [side.edge for side in one.outline.sides] == ["form", "open", "form", "form", "solid", "form"]


def test_width_and_height_must_agree_with_an_outline_beside_them():
    assert faults(row(height="2900", outline="6000 3000 6000 3000")) == [(2, "height")]


def test_several_alike_are_several_panels_in_as_many_stacks():
    found = parse_schedule([row(quantity="3", stack="S")]).panels
    assert [(one.mark, one.stack) for one in found] == [("A1/1", "S/1"), ("A1/2", "S/2"), ("A1/3", "S/3")]
    assert [one.stack_name for one in parse_schedule([row(quantity="2")]).panels] == ["A1/1", "A1/2"]


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"mark": ""}, "mark"),
        ({"mark": "A" * 41}, "mark"),
        ({"width": "6.0 m"}, "width"),
        ({"width": "6"}, "width"),
        ({"width": ""}, "width"),
        ({"height": "6000.5"}, "height"),
        ({"height": "3.000"}, "height"),
        ({"height": "3,000"}, "height"),
        ({"thickness": ""}, "thickness"),
        ({"thickness": "1500"}, "thickness"),
        ({"section": "thick"}, "section"),
        ({"level": "0"}, "level"),
        ({"quantity": "-1"}, "quantity"),
        ({"pour date": "05/03/2027"}, "pour date"),
        ({"pour date": "2027-02-30"}, "pour date"),
        ({"offset x": "left"}, "offset x"),
        ({"quarter turn": "45"}, "quarter turn"),
        ({"outline": "6000 3000 6000 2900"}, "outline"),
        ({"openings": "900 by 2100"}, "openings"),
        ({"openings": "900x2100@5500,0"}, "openings"),
    ],
)
def test_a_faulty_cell_is_found_with_its_line_and_column_and_a_remedy(cells, column):
    found = parse_schedule([GOOD | {"mark": "B1"}, GOOD | cells])
    assert [(one.line, one.column) for one in found.findings] == [(3, column)]
    assert all(one.wrong and one.remedy.endswith(".") for one in found.findings)
    assert [one.mark for one in found.panels] == ["B1"]


def test_every_fault_of_a_row_is_found_at_once():
    assert faults(row(width="x", height="y", level="z")) == [(2, "height"), (2, "level"), (2, "width")]


def test_a_mark_twice_names_the_line_it_is_already_on():
    found = parse_schedule([row(), row(width="5000")])
    assert [(one.line, one.column, one.wrong) for one in found.findings] == [
        (3, "mark", "Mark A1 is already on line 2.")
    ]


def test_a_pour_has_one_date():
    rows = [row(pour="P1", pour_date="2027-03-05"), row(mark="A2", pour="P1", pour_date="2027-03-06")]
    assert faults(*rows) == [(3, "pour date")]


def test_missing_repeated_and_unknown_headings_are_found_on_line_1():
    assert (1, "thickness") in faults({"mark": "A1", "width": "6000", "height": "3000"})
    assert (1, "colour") in faults(row(colour="grey"))
    assert (1, "width") in faults({**GOOD, "Width": "6000"})
    assert faults() == [(1, "")]


def test_blank_rows_are_passed_over_and_lines_still_count():
    found = parse_schedule([GOOD, dict.fromkeys(COLUMNS, ""), row(mark="A2", width="x")])
    assert [one.line for one in found.findings] == [4]


def test_whole_numbers_from_a_spreadsheet_are_read():
    one = parse_schedule([row(width="6000.0", pour_date="2027-03-05 00:00:00")]).panels[0]
    assert one.outline.width_mm == 6000


@given(st.lists(st.fixed_dictionaries({}, optional={name: st.text(max_size=12) for name in COLUMNS}), max_size=4))
def test_whatever_is_in_the_cells_it_is_read_or_found_faulty(rows):
    found = parse_schedule(rows)
    assert len(found.panels) == len({one.mark for one in found.panels}) or found.findings
