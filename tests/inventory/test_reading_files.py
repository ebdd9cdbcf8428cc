"""Files as spreadsheets and people write them: encodings, separators, decimal commas, formulas, wrong files."""

import io
from decimal import Decimal

import pytest
from openpyxl import Workbook

from inventory.errors import Refused
from inventory.services.importing import values
from inventory.services.importing.files import read_table


def book(*rows):
    made = Workbook()
    for row in rows:
        made.active.append(row)
    file = io.BytesIO()
    made.save(file)
    return file.getvalue()


def cells(content, name="fleet.csv"):
    return [row.cells for row in read_table(name, content).rows]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_every_usual_encoding_and_separator_is_read(encoding, separator):
    text = separator.join(["code", "name"]) + "\r\n" + separator.join(["E1", "Randform für Süd"]) + "\r\n"
    assert cells(text.encode(encoding)) == [("E1", "Randform für Süd")]


def test_a_row_keeps_the_line_it_stands_on_past_empty_lines_and_line_breaks_in_cells():
    table = read_table("x.csv", b'code,name\n\nE1,"two\nlines"\nE2,one\n')
    assert [row.line for row in table.rows] == [3, 5]


def test_a_workbook_gives_numbers_days_and_yes_as_text():
    import datetime as dt

    content = book(["a", "b", "c", "d"], [3000.0, 14.7, dt.date(2026, 3, 31), True])
    assert cells(content) == [("3000", "14.7", "2026-03-31", "yes")]


def test_a_formula_that_was_never_worked_out_is_seen():
    (row,) = cells(book(["a"], ["=1+1"]))
    assert row == ("=1+1",)


def test_what_the_export_disarmed_reads_back_as_it_was():
    assert cells(b"note\n'=bent\n'-x\n'plain\n") == [("=bent",), ("-x",), ("'plain",)]


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "file-empty"),
        (b"  \n ", "file-empty"),
        (b"%PDF-1.7 ...", "file-kind"),
        (b"\xd0\xcf\x11\xe0old workbook", "file-kind"),
        (b"PK\x03\x04 not a workbook", "file-broken"),
        (b'code,name\nE1,"open', "file-broken"),
        (b"x" * (8 * 2**20 + 1), "file-large"),
        (b"code\n" + b"E\n" * 20_001, "file-rows"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_with_a_reason(content, why):
    with pytest.raises(Refused) as refused:
        read_table("fleet.xyz", content)
    assert refused.value.code == why


@pytest.mark.parametrize(
    ("said", "comma", "value"),
    [
        ("12.5", False, "12.5"),
        ("1,234.5", False, "1234.5"),
        ("1 234.5", False, "1234.5"),
        ("12,5", False, "12.5"),
        ("1,234,567", False, "1234567"),
        ("12,5", True, "12.5"),
        ("1.234,5", True, "1234.5"),
        ("12,345", True, "12.345"),
        ("12.5", True, "12.5"),
    ],
)
def test_numbers_are_read_as_their_file_writes_them(said, comma, value):
    assert values.number(3, 10**9)(said, comma) == Decimal(value)


@pytest.mark.parametrize(
    ("said", "comma", "says"),
    [
        ("1,234", False, "two ways"),
        ("1.234", True, "two ways"),
        ("14 kg", False, "not a number"),
        ("1,2,3", False, "not a number"),
        ("=1+1", False, "never worked out"),
        ("nan", False, "not a number"),
        ("1e400000", False, "not a number from"),
        ("-3", False, "not a number from 0"),
        ("1.23456", False, "decimal places"),
    ],
)
def test_a_number_in_doubt_is_refused_with_what_to_write(said, comma, says):
    with pytest.raises(ValueError, match=says):
        values.number(3, 10**9)(said, comma)


def test_a_day_in_doubt_is_refused():
    assert str(values.day("31.03.2026", False)) == "2026-03-31"
    with pytest.raises(ValueError, match="write 2026-03-04 or 2026-04-03"):
        values.day("03/04/2026", False)
