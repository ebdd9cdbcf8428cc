"""A panel schedule is seen before it is taken, taken once, and never half."""

from __future__ import annotations

import csv
import io
from datetime import date

import pytest
from openpyxl import Workbook

from inventory.models import Place
from jobs.errors import Refused
from jobs.models import Panel
from jobs.services.schedule_files import blank_template, read_rows
from jobs.services.schedules import preview_schedule, take_schedule
from tests.jobs import build

pytestmark = pytest.mark.django_db


def test_a_preview_writes_nothing():
    job = build.job()
    preview = preview_schedule(job=job, rows=[build.row("A1")])
    assert preview.new == ("A1",) and preview.can_be_taken
    assert job.panels.count() == job.pours.count() == 0


def test_taking_makes_panels_and_pours_with_places_on_the_site():
    job = build.job_with(build.row("A1", stack="S1"), build.row("A2", stack="S1", level=2, pour_date="2027-03-10"))
    assert list(job.pours.values_list("name", "cast_on")) == [
        ("2027-03-05", date(2027, 3, 5)),
        ("2027-03-10", date(2027, 3, 10)),
    ]
    assert {place.parent_id for place in Place.objects.filter(pour__job=job)} == {job.site_id}


def test_taking_the_same_schedule_again_changes_nothing():
    rows = [build.row("A1"), build.row("B", quantity=3) | {"pour date": "2027-03-08"}]
    rows = [{"quantity": ""} | cells for cells in rows]
    job = build.job()
    take_schedule(job=job, rows=rows)
    before = list(Panel.objects.order_by("pk").values())
    again = take_schedule(job=job, rows=rows)
    assert not again.changes_something and len(again.same) == 4
    assert list(Panel.objects.order_by("pk").values()) == before


def test_a_quantity_becomes_as_many_panels_with_marks_of_their_own():
    job = build.job_with(build.row("B", quantity=3))
    assert list(job.panels.values_list("mark", flat=True)) == ["B/1", "B/2", "B/3"]


def test_one_faulty_cell_keeps_everything_out():
    job = build.job()
    rows = [build.row("A1"), build.row("A2", width="6 feet"), build.row("A3", thickness="thick")]
    preview = preview_schedule(job=job, rows=rows)
    assert [(f.line, f.column) for f in preview.findings] == [(3, "width"), (4, "thickness")]
    with pytest.raises(Refused) as refused:
        take_schedule(job=job, rows=rows)
    assert refused.value.code == "faulty-rows"
    assert job.panels.count() == 0


def test_a_panel_in_no_dated_pour_is_a_finding():
    preview = preview_schedule(job=build.job(), rows=[build.row("A1") | {"pour date": ""}])
    assert [(f.line, f.column) for f in preview.findings] == [(2, "pour date")]


def test_two_panels_on_one_level_of_a_stack_are_a_finding():
    rows = [build.row("A1", stack="S", level=1), build.row("A2", stack="S", level=1)]
    assert [f.column for f in preview_schedule(job=build.job(), rows=rows).findings] == ["level"]


def test_two_panels_of_a_stack_can_change_places():
    low, high = build.row("A1", stack="S", level=1), build.row("A2", stack="S", level=2, pour_date="2027-03-10")
    job = build.job_with(low, high)
    swapped = [low | {"mark": "A2"}, high | {"mark": "A1"}]
    assert set(take_schedule(job=job, rows=swapped).changed) == {"A1", "A2"}
    assert dict(job.panels.values_list("mark", "level")) == {"A1": 2, "A2": 1}


def test_an_outline_is_kept_side_by_side_and_reads_back():
    from jobs.planning.outline_text import format_outline
    from jobs.selectors.panels import planned_panels

    text = "6000 2000 3000@-90 1000o 3000s 3000"
    job = build.job_with(build.row("L", "", "", outline=text))
    assert format_outline(planned_panels(job)[0].outline) == text


def test_csv_and_xlsx_of_one_schedule_read_alike():
    """openpyxl writes the workbook and csv the text; both are general libraries outside this project."""
    cells = [["Mark", "Width", "Height", "Thickness", "Pour date"], ["A1", 6000, 3000, 150, date(2027, 3, 5)]]
    text = io.StringIO()
    csv.writer(text, delimiter=";").writerows(cells)
    book, held = Workbook(), io.BytesIO()
    for line in cells:
        book.active.append(line)
    book.save(held)
    assert read_rows("a.csv", text.getvalue().encode("utf-8-sig")) == read_rows("a.xlsx", held.getvalue())


def test_a_heading_that_stands_twice_is_told():
    rows = read_rows("a.csv", b"mark,width,height,thickness,thickness,pour date\nA1,6000,3000,150,150,2027-03-05\n")
    assert any("twice" in f.wrong for f in preview_schedule(job=build.job(), rows=rows).findings)


@pytest.mark.parametrize(
    "name,content", [("a.xlsx", b"no workbook"), ("a.csv", b"\xff\xfe\x00x"), ("b.csv", b"a\x00b")]
)
def test_a_file_that_is_no_schedule_is_refused_in_words(name, content):
    with pytest.raises(Refused):
        read_rows(name, content)


def test_a_row_is_told_by_the_line_it_stands_on_in_the_file():
    content = (
        b"mark,width,height,thickness,pour date\n\nA1,6000,3000,150,2027-03-05\n,,,,\nA2,6 m,3000,150,2027-03-05\n"
    )
    findings = preview_schedule(job=build.job(), rows=read_rows("a.csv", content)).findings
    assert [(found.line, found.column) for found in findings] == [(5, "width")]


def test_a_cell_beyond_the_last_heading_is_told_of_beside_the_other_faults():
    content = b"mark,,width,height,thickness\nA1,,6000,3000,150,2027-03-05\nA2,x,6 m,3000,150\n"
    found = preview_schedule(job=build.job(), rows=read_rows("a.csv", content)).findings
    assert [(each.line, each.column) for each in found] == [(2, ""), (3, ""), (3, "width")]
    assert "'2027-03-05' stands under no heading" in found[0].wrong


def test_the_blank_template_has_no_rows():
    assert read_rows("blank.xlsx", blank_template()) == []
