"""Where labels stand on a sheet."""

import dataclasses
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.tags import sheet
from inventory.tags.sheet import USUAL, Sheet

tenths = st.integers(0, 300).map(lambda n: Decimal(n) / 10)
sheets = st.builds(
    Sheet,
    page_width=st.just(Decimal(210)),
    page_height=st.just(Decimal(297)),
    columns=st.integers(1, 5),
    rows=st.integers(1, 12),
    label_width=st.integers(300, 2100).map(lambda n: Decimal(n) / 10),
    label_height=st.integers(200, 2900).map(lambda n: Decimal(n) / 10),
    margin_left=tenths,
    margin_top=tenths,
    gap_across=tenths,
    gap_down=tenths,
)


@pytest.mark.parametrize("name", USUAL)
def test_the_usual_sheets_can_be_printed(name):
    assert sheet.faults(USUAL[name][1]) == []


def rectangle(of, number):
    place = sheet.place_of(of, number)
    return place.left, place.top, place.left + of.label_width, place.top + of.label_height


@given(sheets, st.integers(0, 59), st.integers(0, 59))
def test_no_label_leaves_the_page_or_lies_on_another(of, first, second):
    if sheet.faults(of):
        return
    left, top, right, bottom = rectangle(of, first)
    assert left >= 0 and top >= 0 and right <= of.page_width and bottom <= of.page_height
    if first != second and sheet.place_of(of, first).page == sheet.place_of(of, second).page:
        other = rectangle(of, second)
        assert right <= other[0] or other[2] <= left or bottom <= other[1] or other[3] <= top


@given(sheets)
def test_the_code_stays_inside_its_label(of):
    side = sheet.code_side(of)
    assert side <= min(of.label_width, of.label_height)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"columns": 5}, "The labels take 262.5 mm across and the page has 210 mm"),
        ({"rows": 11}, "The labels take 326.7 mm down and the page has 297 mm"),
        ({"columns": 0}, "1 to 50 columns"),
        ({"rows": 0}, "1 to 100 rows"),
        ({"gap_down": Decimal(-1)}, "cannot be negative"),
        ({"label_height": Decimal(8)}, "is too small"),
        ({"page_width": Decimal(2000)}, "at most 1,200 mm"),
    ],
)
def test_a_sheet_that_cannot_be_printed_says_why(change, says):
    found = sheet.faults(dataclasses.replace(sheet.A4_40, **change))
    assert any(says in sentence for sentence in found)
