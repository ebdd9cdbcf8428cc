"""Catalogue, places, settings, counted goods, crates, labels and files brought in, through their pages."""

import shutil
import subprocess
from decimal import Decimal

import pytest
import zxingcpp
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from inventory.forms.catalogue import YardSettingsForm
from inventory.lifecycle.kinds import PlaceKind
from inventory.models import BroughtIn, CountedStock, DamageReason, GearType, Piece, Place, Tag, YardSettings
from inventory.services.importing.columns import FileKind
from inventory.services.registering import NewPiece, register_pieces
from inventory.tags import code
from tests.factories import GearTypeFactory

pytestmark = pytest.mark.django_db
TYPES = b"code,name,kind\nBR,Form bracket,form bracket\n"


@pytest.fixture
def yard():
    return Place.objects.create(name="North yard", kind=PlaceKind.YARD)


@pytest.fixture
def crate(yard):
    kind = GearTypeFactory(code="CR", name="crate", kind=GearType.Kind.CRATE, mass_kg=40)
    return register_pieces([NewPiece(kind.pk, (code.with_check("CRATE222"),), yard.pk)], by=None)[0]


@pytest.fixture
def bracket(yard):
    kind = GearTypeFactory(code="BR", name="bracket", kind=GearType.Kind.FORM_BRACKET, mass_kg=2)
    return register_pieces([NewPiece(kind.pk, ("ABCDEFGH3",), yard.pk)], by=None)[0]


def hand_in(client, content=TYPES, kind="types"):
    answer = client.post(f"/bring-in/{kind}/", {"file": SimpleUploadedFile("fleet.csv", content)})
    return answer, BroughtIn.objects.first()


def test_a_file_is_shown_before_it_is_taken_and_taken_once(client_as):
    client = client_as("manager")
    answer, held = hand_in(client)
    assert answer.url == f"/bring-in/file/{held.pk}/"
    assert "<b>1 new</b>" in client.get(answer.url).content.decode() and not GearType.objects.exists()
    client.post(answer.url, {"do": "take"})
    again = client.post(answer.url, {"do": "take"}, follow=True)
    assert GearType.objects.count() == 1 and "dealt with already" in again.content.decode()
    assert "Taken" in client.get(answer.url).content.decode()


def test_a_faulty_cell_is_marked_in_place_and_the_file_cannot_be_taken(client_as):
    client = client_as("manager")
    answer, _ = hand_in(client, b"code,name,kind\nBR,Form bracket,brakket\n")
    shown = client.get(answer.url).content.decode()
    assert 'class="cell-wrong">brakket<span>' in shown and "Line 2, kind" in shown and 'value="take"' not in shown
    assert "Nothing was taken" in client.post(answer.url, {"do": "take"}, follow=True).content.decode()
    assert not GearType.objects.exists()


def test_a_dropped_file_changes_nothing(client_as):
    client = client_as("manager")
    answer, _ = hand_in(client)
    client.post(answer.url, {"do": "drop"})
    assert not GearType.objects.exists() and "It changed nothing" in client.get(answer.url).content.decode()


def test_a_file_that_cannot_be_read_says_so_beside_the_field(client_as):
    answer, held = hand_in(client_as("manager"), b"%PDF-1.7")
    assert held is None and "neither CSV nor XLSX" in answer.content.decode()


@pytest.mark.parametrize("kind", [kind.name.lower() for kind in FileKind])
def test_template_and_books_can_be_saved(client_as, kind):
    client = client_as("manager")
    for path in ("template.xlsx", "books.csv", "books.xlsx"):
        answer = client.get(f"/bring-in/{kind}/{path}")
        assert answer.status_code == 200 and b"".join(answer)
    assert client.get(f"/bring-in/{kind}/books.pdf").status_code == 404


def labels_read(pdf, folder):
    (folder / "labels.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-gray", "-r", "150", folder / "labels.pdf", folder / "page"], check=True, timeout=60)
    pages = [zxingcpp.read_barcodes(Image.open(page)) for page in sorted(folder.glob("page*.pgm"))]
    return sorted(found.text for page in pages for found in page)


needs_poppler = pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm of poppler-utils is missing")


@needs_poppler
def test_new_tags_are_printed_and_wait_for_their_pieces(client_as, tmp_path):
    YardSettings.objects.create(pk=1, tag_base="HTTPS://YARD.EXAMPLE")
    said = {"what": "new", "count": 3, "copies": "2", "skip": 1, "sheet": "a4-24"}
    answer = client_as("manager").post("/labels/", said)
    made = list(Tag.objects.values_list("code", flat=True))
    assert len(made) == 3 and all(code.is_valid(each) for each in made)
    assert labels_read(answer.content, tmp_path) == sorted(f"HTTPS://YARD.EXAMPLE/T/{each}" for each in made * 2)


@needs_poppler
def test_labels_of_pieces_on_a_sheet_by_its_measures(client_as, bracket, tmp_path):
    measures = {"page_width": 210, "page_height": 297, "columns": 2, "rows": 6, "label_width": 90, "label_height": 40}
    measures |= {"margin_left": 10, "margin_top": 12, "gap_across": 5, "gap_down": "2.5"}
    said = {"what": "codes", "codes": "abcd-efgh-3", "copies": "1", "skip": 2, "sheet": "other"} | measures
    assert labels_read(client_as("hand").post("/labels/", said).content, tmp_path) == ["HTTP://TESTSERVER/T/ABCDEFGH3"]


@pytest.mark.parametrize(
    ("said", "says"),
    [
        ({"what": "new"}, "Say how many new tags"),
        ({"what": "codes", "codes": "ABCD-EFGH-4"}, "is not a tag code"),
        ({"what": "codes", "codes": "ABCD-EFGH-3"}, "No piece on the books carries ABCDEFGH3"),
        ({"what": "pieces"}, "Nothing to print"),
        ({"what": "new", "count": 1, "sheet": "other", "columns": 9}, "Needed for a sheet by its measures"),
        ({"what": "new", "count": 1, "skip": 99}, "Start at a label between 1 and 40"),
    ],
)
def test_labels_that_cannot_be_printed_say_why_and_make_no_tags(client_as, said, says):
    answer = client_as("manager").post("/labels/", {"copies": "1", "skip": 1, "sheet": "a4-40"} | said)
    assert says in answer.content.decode() and not Tag.objects.exists()


def test_a_type_is_entered_and_put_right_by_the_manager(client_as):
    client = client_as("manager")
    said = {"code": "E2", "name": "form", "kind": "edge form", "tracked": "by tag", "splayed_ends": 1, "mass_kg": 10}
    said |= {"replacement_value": 200}
    assert "An edge form needs its section" in client.post("/types/new/", said).content.decode()
    client.post("/types/new/", said | {"section_mm": 150, "length_mm": 3000})
    made = GearType.objects.get()
    client.post(f"/types/{made.pk}/", said | {"section_mm": 175, "length_mm": 3000})
    made.refresh_from_db()
    assert made.section_mm == 175
    assert client_as("planner").post(f"/types/{made.pk}/", said).status_code == 403


def test_a_type_with_pieces_keeps_how_it_is_tracked(client_as, bracket):
    said = {"code": "BR", "name": "b", "kind": "form bracket", "tracked": "by count", "splayed_ends": 0, "mass_kg": 2}
    answer = client_as("manager").post(f"/types/{bracket.type_id}/", said | {"replacement_value": 0})
    assert "how it is tracked stays" in answer.content.decode()


def test_a_wash_bay_is_part_of_a_yard_and_a_place_with_gear_stays_open(client_as, bracket, yard):
    client = client_as("manager")
    wash_bay = {"name": "Wash bay", "kind": "wash bay"}
    assert "Say which yard it is part of" in client.post("/places/new/", wash_bay).content.decode()
    client.post("/places/new/", wash_bay | {"parent": yard.pk})
    assert Place.objects.get(name="Wash bay").parent == yard
    answer = client.post(f"/places/{yard.pk}/", {"name": "North yard", "closed": "on"})
    assert "Gear is still here" in answer.content.decode()


def test_a_place_says_what_it_holds_and_the_number_is_a_list(client_as, bracket, yard):
    client = client_as("planner")
    assert "This yard holds 1 article" in " ".join(client.get(f"/places/{yard.pk}/").content.decode().split())
    listed = client.get(f"/pieces/?state=held&place={yard.pk}").content.decode()
    assert "ABCD-EFGH-3" in listed and "1 row" in listed


def test_goods_are_counted_and_counted_again(client_as, yard):
    kind = GearTypeFactory(code="M12", kind=GearType.Kind.BOLT, tracked=GearType.Tracked.BY_COUNT)
    client = client_as("hand")
    for quantity in (500, 420):
        said = {"type": kind.pk, "place": yard.pk, "condition": "sound", "quantity": quantity}
        assert client.post("/counted-goods/count/", said).status_code == 302
    assert CountedStock.objects.get().quantity == 420
    assert "420" in client.get("/counted-goods/").content.decode()


def test_a_crate_is_packed_and_unpacked(client_as, crate, bracket):
    client = client_as("hand")
    client.post(f"/crates/{crate.pk}/", {"codes": "HTTPS://X.EXAMPLE/T/ABCDEFGH3\n", "pack": "1"})
    bracket.refresh_from_db()
    assert bracket.crate == crate
    shown = " ".join(client.get(f"/crates/{crate.pk}/").content.decode().split())
    assert "lists 1 piece and weighs 42.0 kg" in shown and "ABCD-EFGH-3" in shown
    client.post(f"/crates/{crate.pk}/", {"out": [bracket.pk]})
    bracket.refresh_from_db()
    assert bracket.crate is None


@pytest.mark.parametrize(
    ("codes", "says"),
    [
        ("ZZZZZZZZZ", "is not a tag code"),
        (code.with_check("ZZZZZZZZ"), "No piece carries"),
        ("CRATE", "is a crate itself"),
    ],
)
def test_what_cannot_be_packed_says_why_and_packs_nothing(client_as, crate, bracket, codes, says):
    wanted = f"ABCDEFGH3\n{crate.label if codes == 'CRATE' else codes}"
    answer = client_as("hand").post(f"/crates/{crate.pk}/", {"codes": wanted, "pack": "1"})
    assert says in answer.content.decode() and not Piece.objects.exclude(crate=None).exists()


SETTINGS = {
    "business_name": "Our yard",
    "who_to_call": "01 234",
    "currency": "aud",
    "working_days": "1111110",
    "holiday_country": "au",
    "holiday_region": "nsw",
    "clock_tolerance_minutes": 5,
    "two_person_lift_kg": 25,
    "saw_kerf_mm": 4,
    "pick_order": "alike",
    "two_person_bundle_kg": 40,
    "forklift_bundle_kg": 1000,
    "clean_cost": "1.50",
    "scrap_price_kg": "1.20",
    "money_cost_percent": "8",
    "reasons-TOTAL_FORMS": 1,
    "reasons-INITIAL_FORMS": 0,
    "reasons-0-words": "bent",
    "reasons-0-usual_grade": "unfit",
}


def test_settings_and_a_reason_for_damage_are_kept(client_as):
    assert client_as("manager").post("/settings/", SETTINGS).status_code == 302
    kept = YardSettings.current()
    assert (kept.currency, kept.holiday_country, kept.holiday_region) == ("AUD", "AU", "NSW")
    assert DamageReason.objects.get(words="bent").usual_grade == "unfit"
    assert (kept.clean_cost, kept.scrap_price_kg, kept.forklift_bundle_kg) == (Decimal("1.50"), Decimal("1.20"), 1000)


def test_every_setting_has_its_place_on_the_page():
    assert {field.name for field in YardSettings._meta.fields} - {"id"} == set(YardSettingsForm.base_fields)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"tag_base": "yard.example"}, "Give https, the host"),
        ({"currency": "E1"}, "three letters of ISO 4217"),
        ({"working_days": "111"}, "Give seven figures"),
        ({"holiday_country": "XX"}, "knows no country"),
        ({"holiday_region": "ZZ"}, "No region"),
    ],
)
def test_settings_at_fault_say_what_to_write(client_as, change, says):
    assert says in client_as("manager").post("/settings/", SETTINGS | change).content.decode()
