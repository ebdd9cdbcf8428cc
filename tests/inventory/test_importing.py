"""Bringing in a fleet: what a file would do is shown, every fault has its place, and the same file doubles nothing."""

import csv
import datetime as dt
import io

import pytest

from inventory.errors import Refused
from inventory.lifecycle.kinds import Fitness, PlaceKind, Standing
from inventory.models import CountedStock, Event, GearType, HiredIn, Piece, Place, Tag
from inventory.services.importing import exporting
from inventory.services.importing.checking import check
from inventory.services.importing.columns import COLUMNS, FileKind
from inventory.services.importing.files import read_table
from inventory.services.importing.findings import Outcome
from inventory.services.importing.taking import take
from inventory.services.recording import record
from inventory.services.reports import Kind, Report
from inventory.views.exporting import neutralised

pytestmark = pytest.mark.django_db
NOW = dt.datetime(2026, 11, 20, 9, 0, tzinfo=dt.UTC)
TYPES = b"""code,name,kind,section mm,length mm,mass kg
E150-45,Edge form 150 x 4.5 m,edge form,150,4500,22.05
CR,Crate,crate,,,40
BR,Form bracket,form bracket,,,2.1
M12,Bolt M12 x 50,bolt,,,0.06
"""
PIECES = b"""tag,own number,type,place,condition,dirty,uses,crate,note,owner,due back
ABCD-EFGH-3,F-1,E150-45,North yard,watch,yes,12,,bent tip,,
,F-2,e150-45,"North yard, Wash bay",,,,,,,
,B-1,BR,North yard,,,,K-1,,,
,K-1,CR,North yard,,,,,,,
,H-1,E150-45,North yard,,,,,,Hire firm,2026-12-01
"""
COUNTED = b"type,place,condition,quantity\nM12,North yard,,1200\nM12,North yard,unfit,30\n"


@pytest.fixture
def yard():
    place = Place.objects.create(name="North yard", kind=PlaceKind.YARD)
    Place.objects.create(name="Wash bay", kind=PlaceKind.WASH_BAY, parent=place)
    return place


@pytest.fixture
def types(yard):
    bring(FileKind.TYPES, TYPES)
    return yard


def bring(kind, content, now=NOW):
    return take(kind, "fleet.csv", content, by=None, now=now)


def look(kind, content):
    return check(kind, "fleet.csv", content, NOW)


def faults(kind, content):
    return [str(fault) for fault in look(kind, content).all_faults]


def test_a_look_writes_nothing(yard):
    assert look(FileKind.TYPES, TYPES).counts == {Outcome.NEW: 4}
    assert not GearType.objects.exists()


def test_types_are_taken_with_the_usual_ways_of_their_kind(types):
    form, bolt = GearType.objects.get(code="E150-45"), GearType.objects.get(code="M12")
    assert (form.clean_after_every_pour, form.tracked, form.length_mm) == (True, "by tag", 4500)
    assert (bolt.clean_after_every_pour, bolt.tracked) == (False, "by count")


def test_pieces_are_registered_through_the_ledger(types):
    assert bring(FileKind.PIECES, PIECES) == {Outcome.NEW: 5}
    piece = Piece.objects.get(label="ABCDEFGH3")
    assert (piece.fitness, piece.dirty, piece.uses, piece.note) == (Fitness.WATCH, True, 12, "bent tip")
    assert piece.standing == Standing.HELD and piece.place == types
    assert Event.objects.filter(kind=Kind.REGISTERED).count() == 5


def test_what_lies_in_a_crate_of_the_same_file_is_listed_in_it(types):
    bring(FileKind.PIECES, PIECES)
    assert Piece.objects.get(own_number="B-1").crate == Piece.objects.get(own_number="K-1")


def test_a_hired_in_piece_has_its_owner(types):
    bring(FileKind.PIECES, PIECES)
    assert str(HiredIn.objects.get().due_back) == "2026-12-01"


@pytest.mark.parametrize(
    ("kind", "content"), [(FileKind.TYPES, TYPES), (FileKind.PIECES, PIECES), (FileKind.COUNTED, COUNTED)]
)
def test_the_same_file_twice_doubles_nothing(types, kind, content):
    bring(kind, content)
    before = books()
    again = look(kind, content)
    assert set(again.counts) == {Outcome.SAME} and not again.can_be_taken
    bring(kind, content)
    assert books() == before


def books():
    return (
        Piece.objects.count(),
        Tag.objects.count(),
        GearType.objects.count(),
        Event.objects.count(),
        list(CountedStock.objects.values_list("type__code", "condition", "quantity")),
    )


def test_a_count_says_how_many_there_are_not_how_many_more(types):
    bring(FileKind.COUNTED, COUNTED)
    later = NOW + dt.timedelta(minutes=1)
    assert bring(FileKind.COUNTED, COUNTED.replace(b"1200", b"1150"), later)[Outcome.CHANGED] == 1
    assert dict(CountedStock.objects.values_list("condition", "quantity")) == {"sound": 1150, "unfit": 30}


def test_a_dated_count_brought_in_again_after_a_movement_is_the_same_count(types):
    dated = b"type,place,quantity,counted on\nM12,North yard,1200,2026-11-18\n"
    bring(FileKind.COUNTED, dated)
    later = Report(
        Kind.COUNTED,
        NOW - dt.timedelta(hours=1),
        type=GearType.objects.get(code="M12").pk,
        quantity=900,
        place=types.pk,
    )
    record([later], by=None, now=NOW)
    assert look(FileKind.COUNTED, dated).counts == {Outcome.SAME: 1}


def test_gear_that_has_moved_since_is_not_carried_back_by_the_same_file(types):
    bring(FileKind.PIECES, PIECES)
    wash_bay = Place.objects.get(name="Wash bay")
    record([Report(Kind.COUNTED, NOW, tag="ABCDEFGH3", place=wash_bay.pk)], by=None, now=NOW)
    bring(FileKind.PIECES, PIECES)
    assert Piece.objects.get(label="ABCDEFGH3").place == wash_bay


def test_changed_details_are_named_and_taken(types):
    bring(FileKind.PIECES, PIECES)
    changed = PIECES.replace(b"bent tip", b"straightened")
    row = look(FileKind.PIECES, changed).rows[0]
    assert (row.outcome, row.changes) == (Outcome.CHANGED, ("note",))
    bring(FileKind.PIECES, changed)
    assert Piece.objects.get(label="ABCDEFGH3").note == "straightened"


def test_one_faulty_row_and_nothing_is_taken(types):
    with pytest.raises(Refused, match="Line 3, type: No type “NONE”"):
        bring(FileKind.PIECES, b"tag,own number,type,place\n,A,BR,North yard\n,B,NONE,North yard\n")
    assert not Piece.objects.exists()


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("ABCD-EFGH-4,,BR,North yard,,,", "Line 2, tag: “ABCD-EFGH-4” is not a tag code"),
        (",,BR,North yard,,,", "Line 2: Neither tag nor own number"),
        (",A,,North yard,,,", "Line 2, type: Empty, and needed"),
        (",A,M12,North yard,,,", "Line 2, type: M12 is counted, not tagged"),
        (",A,BR,South yard,,,", "Line 2, place: No place “South yard”"),
        (",A,BR,,,,", "Line 2, place: Empty, and needed"),
        (",A,BR,North yard,broken,,", "Line 2, condition: “broken” is not one of: sound, watch, unfit"),
        (",A,BR,North yard,,K-9,", "Line 2, crate: “K-9” is no crate"),
        (",A,BR,North yard,,,FW1", "Line 2, GIAI: A GIAI begins with the company prefix"),
        (",A,BR,North yard,,,,,x", "Line 2: “x” stands beyond the last column"),
    ],
)
def test_a_fault_says_line_column_and_what_to_do(types, row, says):
    heading = "tag,own number,type,place,condition,crate,GIAI\n"
    assert faults(FileKind.PIECES, (heading + row + "\n").encode())[0].startswith(says)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("code,name\nA,a\n", "Line 1, kind: This column is missing"),
        ("code,name,kind,colour\nA,a,tool,red\n", "Line 1, colour: No such column"),
        ("code,name,kind,Code\nA,a,tool,A\n", "Line 1, code: This column is there twice"),
        ("code,name,kind\nA,a,edge form\n", "length mm: Empty, and an edge form needs it"),
        ("code,name,kind,mass kg,length mm\nA,a,edge form,-3,900\n", "section mm: Empty, and an edge form needs it"),
        ("code,name,kind\nA,a,tool\na,b,tool\n", "Line 3, code: The same code stands on line 2"),
        ("code,name,kind,mass kg\nA,a,tool,12 kg\n", "Line 2, mass kg: “12 kg” is not a number"),
    ],
)
def test_a_fault_in_a_file_of_types(yard, content, says):
    assert any(says in fault for fault in faults(FileKind.TYPES, content.encode()))


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("BR,North yard,5,", "BR is tagged, not counted"),
        ("M12,North yard,-5,", "not a whole number from 0"),
        ("M12,North yard,2.5,", "not a whole number"),
        ("M12,North yard,5,2027-01-01", "This day is still to come"),
        ("M12,North yard,,", "Line 2, quantity: Empty, and needed"),
    ],
)
def test_a_fault_in_a_count(types, row, says):
    assert any(says in f for f in faults(FileKind.COUNTED, f"type,place,quantity,counted on\n{row}\n".encode()))


def test_one_tag_or_number_stands_on_one_row_only(types):
    twice = b"tag,own number,type,place\n,A,BR,North yard\n,A,BR,North yard\n"
    assert faults(FileKind.PIECES, twice) == ["Line 3, own number: The same stands on line 2: one piece, one row."]


def test_a_piece_keeps_its_type(types):
    bring(FileKind.PIECES, PIECES)
    assert "keeps its type" in faults(FileKind.PIECES, b"own number,type,place\nF-1,BR,North yard\n")[0]


def test_a_type_with_pieces_stays_tagged(types):
    bring(FileKind.PIECES, PIECES)
    assert (
        "cannot be turned into a count"
        in faults(FileKind.TYPES, b"code,name,kind,tracked\nBR,Form bracket,form bracket,by count\n")[0]
    )


@pytest.mark.parametrize("kind", FileKind)
def test_what_goes_out_comes_back_in_as_the_same(types, kind):
    bring(FileKind.PIECES, PIECES.replace(b"bent tip", b"=HYPERLINK(1)"))
    bring(FileKind.COUNTED, COUNTED)
    out = io.StringIO()
    csv.writer(out).writerows([neutralised(cell) for cell in row] for row in exporting.rows(kind))
    assert "'=HYPERLINK" in out.getvalue() or kind != FileKind.PIECES
    checked = look(kind, ("\ufeff" + out.getvalue()).encode())
    assert checked.all_faults == [] and set(checked.counts) == {Outcome.SAME}


@pytest.mark.parametrize("kind", FileKind)
def test_the_template_has_the_columns_that_are_read(kind):
    table = read_table("template.xlsx", exporting.template(kind))
    assert list(table.headings) == [column.heading for column in COLUMNS[kind]]
    assert table.rows == ()
