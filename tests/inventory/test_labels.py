"""What is printed can be read: the PDF is turned into pixels by poppler and read by zxing-cpp, both independent."""

import random
import shutil
import subprocess

import pytest
import zxingcpp
from PIL import Image

from inventory.errors import Refused
from inventory.services import labels
from inventory.services.labels import Label
from inventory.tags import code
from inventory.tags.sheet import A4_8, A4_40, SINGLE_50_50, SINGLE_100_50

BASE = "https://yard.example"
needs_poppler = pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm of poppler-utils is missing")


def some(count, seed=1):
    rng = random.Random(seed)
    return [Label(code.make(rng), "Edge form 150 mm", f"{n % 9 + 1}.5 m") for n in range(count)]


def read_back(pdf, folder, dpi, first=1, last=999):
    (folder / "labels.pdf").write_bytes(pdf)
    ends = ["-f", str(first), "-l", str(last)]
    subprocess.run(
        ["pdftoppm", "-gray", "-r", str(dpi), *ends, folder / "labels.pdf", folder / "page"], check=True, timeout=120
    )
    read = []
    for page in sorted(folder.glob("page*.pgm")):
        found = zxingcpp.read_barcodes(Image.open(page), formats=zxingcpp.BarcodeFormat.QRCode)
        read += [barcode.text for barcode in found]
    return read


def printed(wanted):
    return sorted(code.address(BASE, label.code) for label in wanted)


@needs_poppler
@pytest.mark.parametrize("dpi", [150, 300])
@pytest.mark.parametrize("sheet", [A4_40, A4_8, SINGLE_100_50, SINGLE_50_50])
def test_every_code_on_a_sheet_reads_back(tmp_path, sheet, dpi):
    wanted = some(min(sheet.per_page, 40) + 2)
    assert sorted(read_back(labels.sheet_pdf(wanted, sheet, BASE), tmp_path, dpi)) == printed(wanted)


@needs_poppler
def test_two_a_piece_gives_every_code_twice_and_peeled_places_stay_empty(tmp_path):
    wanted = some(10)
    pdf = labels.sheet_pdf(wanted, A4_40, BASE, copies=2, skip=35)
    assert sorted(read_back(pdf, tmp_path, 150)) == sorted(printed(wanted) * 2)
    assert len(list(tmp_path.glob("page*.pgm"))) == 2


@needs_poppler
@pytest.mark.slow
def test_a_thousand_labels_go_into_one_file_and_the_last_page_reads(tmp_path):
    wanted = some(1000)
    pdf = labels.sheet_pdf(wanted, A4_40, BASE)
    assert pdf.count(b"/Type /Page\n") == 25
    assert sorted(read_back(pdf, tmp_path, 150, first=25, last=25)) == printed(wanted[960:])


@needs_poppler
def test_the_code_type_and_length_can_be_read_by_eye(tmp_path):
    (tmp_path / "one.pdf").write_bytes(labels.sheet_pdf([Label("ABCDEFGH3", "Edge form", "4.5 m")], A4_40, BASE))
    text = subprocess.run(["pdftotext", tmp_path / "one.pdf", "-"], check=True, capture_output=True, text=True).stdout
    assert text.split() == ["ABCD", "EFGH-3", "4.5", "m", "Edge", "form"]


def test_the_drawing_is_vectors_and_not_a_picture():
    pdf = labels.sheet_pdf(some(3), A4_40, BASE)
    assert b"/Subtype /Image" not in pdf


def test_level_h_is_taken_when_the_symbol_stays_the_same_size_and_q_when_it_does_not():
    short, long = "HTTPS://YARD.EXAMPLE/T/ABCDEFGH3", "HTTPS://A-LONG-HOST-NAME-FOR-A-YARD.EXAMPLE/T/ABCDEFGH3"
    assert level_of(short) == ("H", 29)
    assert level_of(long) == ("Q", 33)


def level_of(text):
    matrix = labels.modules(text)
    pixels = Image.new("L", (len(matrix) + 8, len(matrix) + 8), 255)
    for y, row in enumerate(matrix):
        for x, dark in enumerate(row):
            pixels.putpixel((x + 4, y + 4), 0 if dark else 255)
    big = pixels.resize((pixels.width * 8, pixels.height * 8), Image.Resampling.NEAREST)
    (found,) = zxingcpp.read_barcodes(big)
    assert found.text == text
    return found.ec_level, len(matrix)


@pytest.mark.parametrize(
    ("kwargs", "why"),
    [
        ({"labels": []}, "label-none"),
        ({"skip": 40}, "label-skip"),
        ({"base": "yard.example"}, "label-address"),
        ({"base": "https://yard.example/our gear"}, "label-address"),
        ({"copies": 600}, "label-many"),
    ],
)
def test_a_refusal_says_what_is_wrong(kwargs, why):
    asked = {"labels": some(10), "sheet": A4_40, "base": BASE} | kwargs
    with pytest.raises(Refused) as refused:
        labels.sheet_pdf(asked.pop("labels"), asked.pop("sheet"), asked.pop("base"), **asked)
    assert refused.value.code == why
