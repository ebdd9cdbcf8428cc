"""What the yard hand meets on the docket pages and on the page for a scanner that types."""

import shutil
import subprocess
from datetime import date

import pytest
from django.urls import reverse

from inventory.lifecycle.kinds import Fitness
from inventory.models import DamageReason, Docket, Event, GearType, Piece
from inventory.selectors.dockets import sheet
from inventory.services import dockets
from inventory.tags import code as tag_code


@pytest.fixture
def out(yard):
    return dockets.open_docket(from_place=yard.yard, to_place=yard.site, by=yard.hand, wanted={yard.form.pk: 2})


@pytest.fixture
def back(yard):
    return dockets.open_docket(from_place=yard.site, to_place=yard.yard, by=yard.hand)


def read(client, docket, code, doing="load", **more):
    said = {"doing": doing, "docket": docket.pk, "code": code} | more
    return client.post(reverse("scan-read"), said)


def test_a_scan_is_answered_with_the_piece_and_the_tally(client_as, yard, out, codes):
    yard.pieces(codes[0])
    answer = read(client_as("hand"), out, codes[0]).content.decode()
    assert "Loaded" in answer
    assert tag_code.format(codes[0]) in answer
    assert "<strong>1</strong> of 2 wanted; 1 loaded in all" in answer
    assert "<strong>1</strong> x Edge form 150 x 3000" in answer


def test_a_mistyped_code_is_not_taken_and_says_why(client_as, out, codes):
    wrong = codes[0][:-1] + ("2" if codes[0][-1] != "2" else "3")
    answer = read(client_as("hand"), out, wrong).content.decode()
    assert "a character is wrong or two are swapped" in answer
    assert not Event.objects.filter(kind="sent").exists()


def test_the_address_in_a_qr_is_read_as_its_code(client_as, yard, out, codes):
    yard.pieces(codes[0])
    read(client_as("hand"), out, f"HTTPS://YARD.EXAMPLE/T/{codes[0]}")
    assert sheet(out).loaded == 1


def test_only_a_manager_is_offered_a_reason_for_unfit_gear(client_as, yard, out, codes):
    yard.pieces(codes[0], fitness=Fitness.UNFIT)
    assert 'name="override"' not in read(client_as("hand"), out, codes[0]).content.decode()
    assert 'name="override"' in read(client_as("manager"), out, codes[0]).content.decode()
    read(client_as("hand"), out, codes[0], override="a hand's reason")
    assert sheet(out).loaded == 0
    read(client_as("manager"), out, codes[0], override="to the maker for mending")
    assert sheet(out).loaded == 1


def test_undo_takes_back_the_last_scan(client_as, yard, out, codes):
    yard.pieces(codes[0])
    client = client_as("hand")
    read(client, out, codes[0])
    event = Event.objects.get(kind="sent")
    client.post(reverse("scan-undo"), {"event": event.pk, "doing": "load"})
    assert sheet(out).loaded == 0


def test_coming_back_asks_clean_or_dirty_and_takes_damage_beside_it(client_as, yard, back, codes):
    yard.pieces(codes[0])
    bent = DamageReason.objects.create(words="bent flange", usual_grade=Fitness.WATCH)
    client = client_as("hand")
    page = client.get(reverse("scan"), {"doing": "arrive", "docket": back.pk}).content.decode()
    assert 'name="state"' in page and "bent flange" in page
    read(client, back, codes[0], doing="arrive", state="dirty", reason=bent.pk)
    piece = Piece.objects.get(label=codes[0])
    assert (piece.dirty, piece.fitness) == (True, Fitness.WATCH)


def test_without_scripts_the_page_comes_back_with_the_answer(client_as, yard, out, codes):
    yard.pieces(codes[0])
    client = client_as("hand")
    said = {"doing": "load", "docket": out.pk, "code": codes[0]}
    page = client.post(reverse("scan-read"), said, follow=True)
    assert "Loaded" in page.content.decode()


def test_a_scan_without_a_docket_says_what_to_do(client_as, yard, codes):
    answer = client_as("hand").post(reverse("scan-read"), {"doing": "load", "code": codes[0]})
    assert "Choose the docket first" in answer.content.decode()


def test_cleaning_and_looking_up_one_piece(client_as, yard, codes):
    yard.pieces(codes[0], dirty=True)
    client = client_as("hand")
    said = {"doing": "clean", "place": yard.yard.pk, "code": codes[0]}
    client.post(reverse("scan-read"), said)
    assert Piece.objects.get(label=codes[0]).dirty is False
    found = client.post(reverse("scan-read"), {"doing": "look-up", "code": codes[0]})
    assert "At Home yard" in found.content.decode()


def test_a_docket_is_opened_left_and_received_through_its_forms(client_as, yard, codes):
    client = client_as("manager")
    client.post(reverse("docket-new"), {"from_place": yard.yard.pk, "to_place": yard.site.pk})
    docket = Docket.objects.get()
    yard.pieces(codes[0])
    read(client, docket, codes[0])
    signed = {"signed_by": "A driver", "signature": "M10 10L20 30"}
    client.post(reverse("docket-leave", args=[docket.pk]), signed | {"vehicle": "TR 1", "driver": "A driver"})
    client.post(reverse("docket-receive", args=[docket.pk]), {"signed_by": "A lead", "whole": "on"})
    docket.refresh_from_db()
    assert (docket.stage, docket.left_signature) == ("received", "M10 10L20 30")
    assert Piece.objects.get(label=codes[0]).place == yard.site


def test_a_signature_that_is_not_strokes_is_refused(client_as, yard, out, codes):
    yard.pieces(codes[0])
    client = client_as("manager")
    read(client, out, codes[0])
    said = {"vehicle": "TR 1", "driver": "D", "signed_by": "D", "signature": '"><script>'}
    page = client.post(reverse("docket-leave", args=[out.pk]), said)
    assert "could not be read" in page.content.decode()
    out.refresh_from_db()
    assert out.left_at is None


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext of poppler-utils is missing")
def test_the_paper_is_a_pdf_that_names_the_pieces(client_as, yard, out, codes):
    yard.pieces(codes[0], codes[1])
    client = client_as("hand")
    read(client, out, codes[0])
    answer = client.get(reverse("docket-paper", args=[out.pk]))
    assert answer["Content-Type"] == "application/pdf"
    words = subprocess.run(
        ["pdftotext", "-", "-"], input=answer.content, capture_output=True, check=True
    ).stdout.decode()
    assert out.number in words
    assert codes[0] in words
    assert codes[1] not in words  # never loaded


def test_a_form_left_wrong_says_so_and_keeps_what_was_typed(client_as, yard):
    client = client_as("manager")
    page = client.post(reverse("docket-new"), {"from_place": yard.yard.pk, "to_place": yard.yard.pk, "driver": "Kept"})
    assert "Choose two different places" in page.content.decode()
    assert "Kept" in page.content.decode()


def test_counted_goods_stand_filled_in_one_kind_after_another(client_as, yard):
    """What is lacking of the next kind; the last one leads back to the docket."""
    bolt, insert = (
        GearType.objects.create(code=code, name=code.lower(), kind="bolt", tracked=GearType.Tracked.BY_COUNT)
        for code in ("BOLT", "INSERT")
    )
    wanted = {yard.form.pk: 2, bolt.pk: 1200, insert.pk: 30}
    docket = dockets.open_docket(from_place=yard.yard, to_place=yard.site, by=yard.hand, wanted=wanted)
    hand, url = client_as("hand"), reverse("docket-goods", args=[docket.pk])
    page = hand.get(url)
    assert page.context["form"].initial == {"type": str(bolt.pk), "quantity": 1200}
    assert f'<a href="?type={insert.pk}">30 x insert</a>' in page.content.decode()
    page = hand.post(url, {"type": bolt.pk, "quantity": 1200, "condition": "sound"}, follow=True)
    assert "1,200 x bolt: " in page.content.decode()
    assert page.context["form"].initial == {"type": str(insert.pk), "quantity": 30}
    answer = hand.post(url, {"type": insert.pk, "quantity": 30, "condition": "sound"})
    assert answer.url == reverse("docket", args=[docket.pk])
    dockets.leave(docket, by=yard.hand, vehicle="T", driver="D", signed_by="D")
    dockets.receive(docket, by=yard.hand, signed_by="D", whole=False)
    assert hand.get(url).context["form"].initial == {"type": str(bolt.pk), "quantity": 1200}


def test_a_docket_says_for_which_day_it_is_planned_on_its_page_and_to_the_hand(client_as, yard):
    ends = {"from_place": yard.yard, "to_place": yard.site, "by": yard.hand}
    docket = dockets.open_docket(**ends, planned_on=date(2027, 3, 5))
    hand, day = client_as("hand"), '<time datetime="2027-03-05">'
    page = hand.get(reverse("docket", args=[docket.pk])).content.decode()
    assert "Planned for" in page and day in page
    assert f"Load {docket.number} for {docket.to_place}, {day}" in hand.get(reverse("board")).content.decode()
