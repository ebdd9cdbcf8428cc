"""The page of a piece, what can be done there, and where its tag leads."""

import datetime as dt
import io
import re

import pytest
from django.test import Client
from django.utils import timezone
from PIL import Image

from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import Fitness, GroupKind, Kind, PlaceKind, Seen, Standing
from inventory.models import DamageReason, Event, HiredIn, Photo, Piece, Place, Tag, YardSettings
from inventory.selectors.history import history
from inventory.services.recording import record
from inventory.services.registering import NewPiece, register_pieces
from inventory.services.reports import Report
from tests.factories import DocketFactory, GearTypeFactory

pytestmark = pytest.mark.django_db
CODE, OTHER = "ABCDEFGH3", "HGFEDCBA"


@pytest.fixture
def yard():
    return Place.objects.create(name="North yard", kind=PlaceKind.YARD)


@pytest.fixture
def piece(yard):
    (made,) = register_pieces(
        [NewPiece(GearTypeFactory(code="E150-30").pk, (CODE,), yard.pk, uses=12)],
        by=None,
        now=days_ago(30),
        happened_at=days_ago(30),
    )
    return made


def days_ago(days):
    return timezone.now() - dt.timedelta(days=days)


def tell(kind, days, **said):
    report = Report(kind, days_ago(days), **said)
    record([report], by=None, now=days_ago(days))
    return report


@pytest.fixture
def cast_once(piece):
    """Sent to a site, set, cast and stripped by whole pour, cleaned."""
    site = Place.objects.create(name="Cold store", kind=PlaceKind.SITE)
    pour = Place.objects.create(name="Pour 1", kind=PlaceKind.POUR, parent=site)
    group = Group(GroupKind.POUR, pour.pk)
    tell(Kind.RECEIVED, 20, piece=piece.pk, place=site.pk)
    tell(Kind.SET, 19, piece=piece.pk, place=pour.pk)
    tell(Kind.CAST, 18, group=group, seen=Seen.BY_GROUP)
    tell(Kind.STRIPPED, 16, group=group, place=site.pk, seen=Seen.BY_GROUP)
    tell(Kind.CLEANED, 15, piece=piece.pk)
    piece.refresh_from_db()
    return pour


def page(client, piece):
    return client.get(f"/pieces/{piece.pk}/").content.decode()


@pytest.mark.parametrize("path", ["/T/ABCDEFGH3", "/t/abcdefgh3", "/T/ABCD-EFGH-3"])
def test_a_tag_leads_to_its_piece_whatever_way_it_is_written(client_as, piece, path):
    assert client_as("hand").get(path).url == f"/pieces/{piece.pk}/"


def test_a_stranger_learns_whom_to_call_and_nothing_else(piece):
    YardSettings.objects.create(pk=1, business_name="Our yard", who_to_call="01 234 567")
    known, unknown = (without_its_token(Client().get(f"/T/{code}")) for code in (CODE, "ZZZZZZZZZ"))
    assert "Please call 01 234 567" in known
    assert known == unknown
    for word in ("edge form", "North yard", "/pieces/", CODE):
        assert word not in known


def without_its_token(answer):
    return re.sub(r'"x-csrftoken": "[^"]*"', "", answer.content.decode())


def test_a_code_that_cannot_be_says_so(client_as):
    answer = client_as("hand").get("/T/ABCDEFGH4")
    assert answer.status_code == 404 and "a character is wrong or two are swapped" in answer.content.decode()


def test_a_printed_tag_on_no_piece_can_be_put_on_the_books_by_the_manager(client_as, yard):
    Tag.objects.create(code=CODE)
    answer = client_as("manager").get(f"/T/{CODE}")
    assert f"/pieces/new/?code={CODE}" in answer.content.decode()


def test_the_page_tells_every_event_by_group_too_and_the_pours(client_as, piece, cast_once):
    shown = page(client_as("manager"), piece)
    for words in ("registered", "by one press on the pour", "Cold store, Pour 1", "has been cast 13 times"):
        assert words in shown


def test_the_life_is_told_from_place_to_place(piece, cast_once):
    told = [(str(stretch.place), stretch.casts, stretch.cleans) for stretch in history(piece).stretches]
    assert told == [("North yard", 0, 0), ("Cold store", 1, 1)]


def test_an_event_that_came_late_says_how_late(client_as, piece):
    report = Report(Kind.CLEANED, days_ago(3), piece=piece.pk)
    record([report], by=None, now=days_ago(1))
    assert "came 2 days later" in page(client_as("manager"), piece) or "came 48 h later" in page(
        client_as("manager"), piece
    )


def test_what_was_taken_back_stays_in_the_history_and_leaves_the_life(client_as, piece):
    report = tell(Kind.FOUND_DAMAGED, 5, piece=piece.pk, data={"grade": "unfit", "reason": "bent"})
    tell(Kind.REVERSED, 4, piece=piece.pk, target=report.id)
    line = next(line for line in history(piece).lines if line.row.pk == report.id)
    assert line.taken_back and history(piece).stretches[0].damages == 0
    assert "(taken back)" in page(client_as("manager"), piece)


def picture():
    file = io.BytesIO()
    Image.new("RGB", (40, 30), "red").save(file, "PNG")
    file.seek(0)
    file.name = "bent.png"
    return file


def test_damage_is_recorded_with_reason_grade_and_photo(client_as, piece, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    reason = DamageReason.objects.create(words="bent")
    said = {"reason": reason.pk, "grade": "unfit", "note": "at one end", "photo": picture()}
    assert client_as("hand").post(f"/pieces/{piece.pk}/damaged/", said).status_code == 302
    piece.refresh_from_db()
    event = Event.objects.get(kind=Kind.FOUND_DAMAGED)
    assert (piece.fitness, event.data["reason"]) == (Fitness.UNFIT, "bent")
    photo = Photo.objects.get(event_id=event.pk)
    answer = client_as("site lead").get(f"/photos/{photo.pk}/")
    assert Image.open(io.BytesIO(b"".join(answer.streaming_content))).size == (40, 30)
    assert f"/photos/{photo.pk}/" in page(client_as("manager"), piece)


def test_a_photo_that_is_none_is_refused_and_nothing_is_recorded(client_as, piece):
    wrong = io.BytesIO(b"not a picture")
    wrong.name = "x.jpg"
    answer = client_as("hand").post(f"/pieces/{piece.pk}/damaged/", {"note": "bent", "grade": "watch", "photo": wrong})
    assert answer.status_code == 200 and not Event.objects.filter(kind=Kind.FOUND_DAMAGED).exists()


def test_damage_without_a_word_of_what_is_refused(client_as, piece):
    answer = client_as("hand").post(f"/pieces/{piece.pk}/damaged/", {"grade": "watch"})
    assert "Choose what is wrong, or say it in your words." in answer.content.decode()


def test_inspection_lifts_unfit_and_is_the_managers(client_as, piece):
    tell(Kind.FOUND_DAMAGED, 2, piece=piece.pk, data={"grade": "unfit"})
    assert client_as("hand").post(f"/pieces/{piece.pk}/inspected/", {"grade": "sound"}).status_code == 403
    manager, named = (
        client_as("manager"),
        {"grade": "sound", "by_name": "A competent person", "checked": "welds, slots"},
    )
    for missing in ("by_name", "checked"):
        assert manager.post(f"/pieces/{piece.pk}/inspected/", named | {missing: ""}).status_code == 200
    piece.refresh_from_db()
    assert piece.fitness == Fitness.UNFIT
    manager.post(f"/pieces/{piece.pk}/inspected/", named)
    piece.refresh_from_db()
    assert piece.fitness == Fitness.SOUND
    shown = page(manager, piece)
    assert "inspected by A competent person" in shown and "checked: welds, slots" in shown


def test_damage_of_a_milder_grade_does_not_lift_the_lock(client_as, piece):
    tell(Kind.FOUND_DAMAGED, 2, piece=piece.pk, data={"grade": "unfit"})
    client_as("hand").post(f"/pieces/{piece.pk}/damaged/", {"note": "scratched", "grade": "sound"})
    piece.refresh_from_db()
    assert piece.fitness == Fitness.UNFIT


def test_damage_says_who_found_it_on_which_return_and_who_pays(client_as, piece, yard):
    back = DocketFactory(direction="back", to_place=yard)
    tell(Kind.RETURNED, 3, piece=piece.pk, place=yard.pk, docket=back.pk)
    said = {"note": "bent", "grade": "watch", "found_by": "A. Hand", "docket": back.pk, "charge": "no"}
    client_as("hand").post(f"/pieces/{piece.pk}/damaged/", said)
    event = Event.objects.get(kind=Kind.FOUND_DAMAGED)
    assert (event.docket, event.data["found_by"], event.data["charge"]) == (back, "A. Hand", False)
    shown = page(client_as("manager"), piece)
    assert "found by A. Hand" in shown and "not charged" in shown


def test_several_photos_at_once_are_kept(client_as, piece, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    said = {"note": "bent", "grade": "watch", "photo": [picture(), picture()]}
    client_as("hand").post(f"/pieces/{piece.pk}/damaged/", said)
    assert Photo.objects.count() == 2


def test_retagging_keeps_the_history_and_the_old_code_still_leads_here(client_as, piece):
    from inventory.tags import code

    new = code.with_check(OTHER)
    client = client_as("hand")
    assert client.post(f"/pieces/{piece.pk}/tag/", {"code": code.format(new), "withdraw": CODE}).status_code == 302
    piece.refresh_from_db()
    assert piece.label == new and Event.objects.filter(piece=piece).count() == 2
    assert client.get(f"/T/{CODE}").url == client.get(f"/T/{new}").url


def test_a_mistyped_new_tag_is_refused(client_as, piece):
    answer = client_as("hand").post(f"/pieces/{piece.pk}/tag/", {"code": "ABCD-EFHG-3"})
    assert "a character is wrong or two are swapped" in answer.content.decode()


LEAVES = {"reason": "cracked through", "how": "damaged", "value": "90.00", "charge": "yes"}


@pytest.mark.parametrize(("name", "standing"), [("retire", Standing.RETIRED), ("lost", Standing.LOST)])
def test_gear_goes_off_the_books_with_a_reason_and_by_the_manager_only(client_as, piece, name, standing):
    assert client_as("hand").post(f"/pieces/{piece.pk}/{name}/", {"reason": "x"}).status_code == 403
    assert client_as("manager").post(f"/pieces/{piece.pk}/{name}/", {"reason": ""}).status_code == 200
    client_as("manager").post(f"/pieces/{piece.pk}/{name}/", LEAVES)
    piece.refresh_from_db()
    assert piece.standing == standing


def test_lost_gear_can_be_found_again(client_as, piece, yard):
    tell(Kind.LOST, 2, piece=piece.pk)
    assert client_as("hand").post(f"/pieces/{piece.pk}/found/", {"place": yard.pk}).status_code == 302
    piece.refresh_from_db()
    assert (piece.standing, piece.place) == (Standing.HELD, yard)


def test_gear_of_somebody_else_goes_back_and_is_not_retired(client_as, piece):
    HiredIn.objects.create(piece=piece, owner="Hire firm")
    shown = page(client_as("manager"), piece)
    assert "It went back to its owner" in shown and "Retire or sell it" not in shown
    client_as("manager").post(f"/pieces/{piece.pk}/retire/", {"reason": "hire over", "how": "sold", "proceeds": "9"})
    assert Event.objects.get(kind=Kind.RETIRED).data == {"how": "gone back", "reason": "hire over"}


def test_a_sale_says_what_it_brought(client_as, piece):
    manager, said = client_as("manager"), {"how": "sold", "reason": "surplus", "buyer": "A builder"}
    assert "Say what it was sold for" in manager.post(f"/pieces/{piece.pk}/retire/", said).content.decode()
    manager.post(f"/pieces/{piece.pk}/retire/", said | {"proceeds": "42.50"})
    piece.refresh_from_db()
    assert piece.standing == Standing.RETIRED
    assert Event.objects.get(kind=Kind.RETIRED).data["proceeds"] == "42.50"
    assert "it brought 42.50" in page(manager, piece)


def test_the_manager_says_whose_a_piece_is(client_as, piece):
    said = {"owner": "Another yard", "their_number": "77", "due_back": "2027-04-01", "cost_day": "0.35"}
    assert client_as("hand").post(f"/pieces/{piece.pk}/hired-in/", said).status_code == 403
    client_as("manager").post(f"/pieces/{piece.pk}/hired-in/", said)
    hired = HiredIn.objects.get(piece=piece)
    assert (hired.owner, hired.their_number, str(hired.cost_day)) == ("Another yard", "77", "0.3500")
    assert "Another yard" in page(client_as("manager"), piece)


def test_a_new_piece_is_put_on_the_books(client_as, yard):
    kind = GearTypeFactory(code="E150-45")
    said = {
        "type": kind.pk,
        "code": "abcd-efgh-3",
        "place": yard.pk,
        "fitness": "sound",
        "uses": 4,
        "own_number": "F-9",
    }
    client_as("manager").post("/pieces/new/", said)
    made = Piece.objects.get(own_number="F-9")
    assert (made.label, made.uses, made.standing) == (CODE, 4, Standing.HELD)


def test_details_are_checked(client_as, piece):
    answer = client_as("manager").post(f"/pieces/{piece.pk}/details/", {"giai": "FW7"})
    assert "A GIAI begins with the company prefix" in answer.content.decode()


@pytest.mark.parametrize(
    "asked", ["q=abcd-efgh-3", "q=E150", "state=clean", "state=held", "q=HTTPS://X.EXAMPLE/T/ABCDEFGH3"]
)
def test_the_list_finds_the_piece(client_as, piece, asked):
    assert f"/pieces/{piece.pk}/" in client_as("planner").get(f"/pieces/?{asked}").content.decode()


@pytest.mark.parametrize("asked", ["state=unfit", "state=lost", "q=ZZZZ", "state=on+the+road"])
def test_the_list_leaves_out_what_was_not_asked_for(client_as, piece, asked):
    assert f"/pieces/{piece.pk}/" not in client_as("planner").get(f"/pieces/?{asked}").content.decode()
