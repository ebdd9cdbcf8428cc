"""The surface that phones and handhelds send their scans to."""

from __future__ import annotations

import io
import json
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

import jsonschema
import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from PIL import Image

from inventory.lifecycle.kinds import Fitness, Kind
from inventory.models import Batch, Device, Event, Person, Photo, ReviewItem, Submission
from inventory.services import devices
from inventory.services.reports import Report
from inventory.services.scanned.reading import VERSION
from tests.factories import UserFactory
from tests.inventory.yard import NOW, at

SCHEMAS = Path(settings.BASE_DIR) / "docs" / "schemas"
REQUEST = json.loads((SCHEMAS / "scans.request.json").read_text())
ANSWER = json.loads((SCHEMAS / "scans.answer.json").read_text())


@pytest.fixture(autouse=True)
def receipt(monkeypatch):
    monkeypatch.setattr("inventory.views.api.timezone.now", lambda: NOW)


@pytest.fixture
def hand(yard, client_as):
    return client_as("hand")


def scan(what, hours=1.0, seq=1, **said):
    return {"id": str(uuid4()), "seq": seq, "happened": at(hours).isoformat(), "what": what, **said}


def post(client, *scans, status=200, now=NOW, device="phone-one", version=VERSION, more=None, **headers):
    batch = {"version": version, "device": device, "now": now.isoformat(), "scans": list(scans)} | (more or {})
    answer = client.post("/api/scans", json.dumps(batch), content_type="application/json", headers=headers)
    assert answer.status_code == status, answer.content
    if status == 200:
        jsonschema.validate(answer.json(), ANSWER)
    return answer.json()


def words(answer):
    return [each["answer"] for each in answer["answers"]]


def test_a_batch_is_recorded_and_each_scan_answered_by_its_id(yard, hand):
    docket, pieces = yard.docket(), yard.pieces("AAA", "BBB")
    scans = [scan("sent", tag=code, docket=docket.pk, seq=n) for n, code in enumerate(("AAA", "BBB"))]
    jsonschema.validate({"version": 1, "now": NOW.isoformat(), "scans": scans}, REQUEST)
    answer = post(hand, *scans)
    assert words(answer) == ["recorded", "recorded"]
    assert [each["id"] for each in answer["answers"]] == [each["id"] for each in scans]
    assert [each["piece"] for each in answer["answers"]] == [piece.pk for piece in pieces]
    pieces[0].refresh_from_db()
    assert (pieces[0].docket, pieces[0].place) == (docket, None)


def test_one_scan_costs_few_ways_to_the_database_and_back(yard, hand):
    """Three to know who sends (session, account, roles), then on PostgreSQL three messages: read, store, bring up to
    date; the test's own savepoint adds two."""
    docket, _ = yard.docket(), yard.pieces("AAA", "BBB")
    post(hand, scan("sent", tag="AAA", docket=docket.pk))
    with CaptureQueriesContext(connection) as seen:
        post(hand, scan("sent", tag="BBB", docket=docket.pk, seq=2))
    assert len(seen) <= (8 if connection.vendor == "postgresql" else 17)


def test_a_batch_sent_again_is_already_had_and_changes_nothing(yard, hand):
    docket, _ = yard.docket(), yard.pieces("AAA")
    scans = [scan("sent", tag="AAA", docket=docket.pk), scan("returned", 2, tag="XXX", docket=docket.pk)]
    assert words(post(hand, *scans)) == ["recorded", "kept for review"]
    counts = [model.objects.count() for model in (Event, Submission, Batch, ReviewItem)]
    again = post(hand, *scans)
    assert words(again) == ["already had", "already had"]
    assert [each["first"] for each in again["answers"]] == ["recorded", "kept for review"]
    assert [model.objects.count() for model in (Event, Submission, Batch, ReviewItem)] == counts


FAULTY = [
    ("text instead of a scan", "says no field"),
    ({"seq": 1}, "missing"),
    (scan("sent", tag="AAA", docket=0), "“docket” must be a whole number"),
    (scan("sent", tag="AAA"), "“docket”"),
    (scan("sent", tag="AA\x00A", docket=1), "no text"),
    (scan("sent", tag="\ud800", docket=1), "no text"),
    (scan("eaten", tag="AAA"), "“what” must be one of"),
    (scan("registered", tag="AAA"), "“what” must be one of"),
    (scan("cleaned", tag="AAA", colour="red"), "no field “colour”"),
    (scan("cleaned", tag="AAA", type="FB"), "exactly one of"),
    (scan("cleaned"), "exactly one of"),
    (scan("sent", whole="pour", pour=3), "not said of a whole pour"),
    (scan("cleaned", tag="AAA") | {"id": "17"}, "“id” must be a UUID"),
    (scan("cleaned", tag="AAA") | {"seq": float("nan")}, "whole number"),
    (scan("cleaned", tag="AAA") | {"seq": True}, "whole number"),
    (scan("cleaned", tag="AAA") | {"seq": 2**63}, "whole number"),
    (scan("cleaned", tag="AAA") | {"happened": "2026-03-02T06:00:00"}, "with its offset"),
    (scan("cleaned", tag="AAA") | {"happened": "2026-13-02T06:00:00Z"}, "with its offset"),
]


def test_faulty_scans_are_kept_and_refused_and_lose_none_of_the_rest(yard, hand):
    yard.pieces("AAA")
    scans = [bad for bad, _ in FAULTY]
    scans.insert(7, scan("cleaned", tag="AAA", place=yard.yard.pk))
    answer = post(hand, *scans)
    told = [each for at_, each in enumerate(answer["answers"]) if at_ != 7]
    assert words(answer)[7] == "recorded"
    assert [each["answer"] for each in told] == ["refused"] * len(FAULTY)
    for (bad, part), each in zip(FAULTY[1:], told[1:], strict=True):
        assert part in each["sentence"], (bad, each)
        assert "Correct it and send it again" in each["sentence"]
    assert Submission.objects.filter(answer="refused").count() == len(FAULTY)
    assert Submission.objects.filter(raw="text instead of a scan").exists()
    assert words(post(hand, *scans)) == ["already had"] * len(scans)
    assert Submission.objects.filter(answer="refused").count() == len(FAULTY)


def test_what_was_refused_may_come_again_put_right(yard, hand):
    yard.pieces("AAA")
    wrong = scan("cleaned", tag="AAA", colour="red")
    assert words(post(hand, wrong)) == ["refused"]
    right = {name: value for name, value in wrong.items() if name != "colour"}
    assert words(post(hand, right)) == ["recorded"]
    assert words(post(hand, right | {"note": "other"})) == ["kept for review"]


def test_what_is_asked_may_be_refused_and_what_is_told_never_is(yard, hand, client_as):
    docket, (piece,) = yard.docket(), yard.pieces("AAA")
    yard.send(Report(Kind.INSPECTED, at(0.5), tag="AAA", data={"grade": Fitness.UNFIT}))
    asked = post(hand, scan("sent", tag="AAA", docket=docket.pk, manner="ask"))["answers"][0]
    assert (asked["answer"], asked["code"]) == ("refused", "unfit-refused")
    told = post(hand, scan("sent", tag="AAA", docket=docket.pk))["answers"][0]
    assert (told["answer"], told["code"], told["loud"]) == ("kept for review", "unfit-sent", True)
    why = {"manner": "ask", "override": "for the scrap dealer"}
    assert words(post(hand, scan("sent", 2, tag="AAA", docket=docket.pk, **why))) == ["refused"]
    manager = client_as("manager")
    assert post(manager, scan("sent", 3, tag="AAA", docket=docket.pk, **why))["answers"][0]["code"] != "unfit-refused"
    assert piece.pk == told["piece"]


def test_nothing_more_is_asked_onto_a_docket_that_has_left_but_it_may_be_told(yard, hand):
    docket, _ = yard.docket(), yard.pieces("AAA", "BBB")
    docket.left_at = at(2)
    docket.save()
    asked = post(hand, scan("sent", 3, tag="AAA", docket=docket.pk, manner="ask"))["answers"][0]
    assert (asked["answer"], asked["code"]) == ("refused", "not-loading")
    assert "Open another docket" in asked["sentence"]
    assert words(post(hand, scan("sent", 1, tag="BBB", docket=docket.pk))) == ["recorded"]


def test_a_wrong_clock_is_corrected_both_times_are_kept_and_the_manager_is_told_once(yard, hand):
    (piece,) = yard.pieces("AAA")
    fast = NOW + timedelta(minutes=42)
    first = scan("cleaned", tag="AAA", place=yard.yard.pk) | {"happened": fast.isoformat()}
    answer = post(hand, first, now=fast)
    assert answer["clock"] == {"off_seconds": 2520.0, "is_off": True, "sentence": answer["clock"]["sentence"]}
    assert "clock is wrong" in answer["clock"]["sentence"]
    event = Event.objects.get(pk=first["id"])
    assert (event.happened_at, event.said_at, event.recorded_at) == (NOW, fast, NOW)
    post(hand, scan("cleaned", 2, tag="AAA", place=yard.yard.pk), now=fast)
    assert ReviewItem.objects.open().filter(code="clock-off").count() == 1
    assert post(hand, now=NOW)["clock"]["is_off"] is False
    assert piece.pk == event.piece_id


def test_a_clock_is_corrected_to_the_second_and_alike_however_long_a_delivery_takes(yard, hand):
    yard.pieces("AAA", "BBB", "CCC", "DDD")

    def happened(code, clock):
        one = scan("cleaned", tag=code, place=yard.yard.pk) | {"happened": (clock - timedelta(minutes=1)).isoformat()}
        assert post(hand, one, now=clock)["clock"]["is_off"] is False  # not by more than a few minutes
        return Event.objects.get(pk=one["id"]).happened_at

    fast = NOW + timedelta(seconds=97)
    assert happened("AAA", fast) == NOW - timedelta(minutes=1)
    on_the_way = timedelta(seconds=3)  # it looks three seconds slower than it is
    assert happened("BBB", fast - on_the_way) == NOW - timedelta(minutes=1) - on_the_way
    assert Device.objects.get(code="phone-one").clock_off_s == 97
    assert happened("CCC", fast + timedelta(seconds=1)) == NOW - timedelta(minutes=1)
    assert happened("DDD", NOW) == NOW - timedelta(minutes=1)  # somebody has set its clock
    assert Device.objects.get(code="phone-one").clock_off_s == 0


def test_a_delivery_that_was_long_on_its_way_says_nothing_of_the_clock_if_the_phone_has_measured_it(yard, hand):
    yard.pieces("AAA")
    clock = NOW + timedelta(minutes=2)  # as it shows on receipt; sent 90 seconds before, by a phone 3.5 minutes fast
    sent = (NOW - timedelta(seconds=90)).isoformat()
    one = scan("cleaned", tag="AAA", place=yard.yard.pk) | {"happened": clock.isoformat()}
    batch = {"version": 1, "now": clock.isoformat(), "server_now": sent, "scans": [one]}
    jsonschema.validate(batch, REQUEST)
    assert post(hand, one, now=clock, more={"server_now": sent})["clock"]["off_seconds"] == 210
    assert Event.objects.get(pk=one["id"]).happened_at == NOW - timedelta(seconds=90)
    for doubtful in (NOW + timedelta(seconds=2), NOW - timedelta(minutes=11)):
        said = post(hand, now=clock, more={"server_now": doubtful.isoformat()})
        assert said["clock"]["off_seconds"] == 120  # as it looks from the receipt
    assert "server_now" in post(hand, status=400, more={"server_now": "soon"})["sentence"]


def test_a_clock_wrong_by_more_than_a_few_minutes_either_way_is_flagged(yard, hand):
    for seconds, flagged in ((300, False), (301, True), (-300, False), (-301, True)):
        assert post(hand, now=NOW + timedelta(seconds=seconds))["clock"]["is_off"] is flagged, seconds


def test_untagged_pieces_by_type_and_counted_goods_by_quantity(yard, hand):
    docket = yard.docket(yard.site, yard.yard)
    post(hand, scan("counted", 0.5, type="M12", quantity=30, place=yard.site.pk))
    post(hand, scan("sent", 0.7, type="M12", quantity=30, place=yard.site.pk, docket=docket.pk))
    answer = post(
        hand,
        scan("returned", type="FB", docket=docket.pk, dirty=True),
        scan("returned", 2, type="M12", docket=docket.pk, quantity=30, grade="watch"),
        scan("returned", 3, type="M12", docket=docket.pk),
        scan("returned", 4, type="FB", docket=docket.pk, quantity=2),
        scan("returned", 5, type="none such", docket=docket.pk),
        scan("returned", 6, type="none such", docket=docket.pk, manner="ask"),
    )
    assert [(each["answer"], each["code"]) for each in answer["answers"]] == [
        ("kept for review", "untagged"),
        ("recorded", ""),
        ("refused", "quantity-missing"),
        ("refused", "one-at-a-time"),
        ("kept for review", "type-unknown"),
        ("refused", "type-unknown"),
    ]
    untagged = Event.objects.get(pk=answer["answers"][0]["id"])
    assert untagged.data == {"untagged": True, "dirty": True, "from_place": yard.site.pk}
    assert Event.objects.get(pk=answer["answers"][1]["id"]).data["condition"] == "watch"


def test_a_whole_pour_and_an_exception(yard, hand):
    docket, (first, second) = yard.docket(), yard.pieces("AAA", "BBB")
    post(hand, *(scan("sent", tag=code, docket=docket.pk) for code in ("AAA", "BBB")))
    set_ = scan("set", 3, whole="docket", docket=docket.pk, pour=yard.pour.pk)
    post(hand, *(scan("received", 2, tag=code, docket=docket.pk) for code in ("AAA", "BBB")), set_)
    post(hand, scan("reversed", 4, takes_back=set_["id"], tag="BBB"))
    post(hand, scan("cast", 5, whole="pour", pour=yard.pour.pk), scan("stripped", 40, whole="pour", pour=yard.pour.pk))
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.uses, second.uses, second.place) == (1, 0, yard.site)


def test_a_crates_tag_takes_what_is_in_it(yard, hand):
    docket = yard.docket()
    (crate,) = yard.pieces("CCC", type=yard.crate)
    (piece,) = yard.pieces("AAA", type=yard.bracket)
    yard.tell(Kind.COUNTED, 0.5, tag="AAA", data={"crate": crate.pk})
    assert words(post(hand, scan("sent", tag="CCC", docket=docket.pk))) == ["recorded"]
    piece.refresh_from_db()
    assert piece.docket == docket


def test_a_scan_keeps_the_name_of_who_made_it(yard, hand):
    yard.pieces("AAA")
    other = Person.objects.create(name="Who scanned it")
    made = scan("cleaned", tag="AAA", by=other.pk)
    post(hand, made)
    event = Event.objects.get(pk=made["id"])
    assert event.person == other
    assert event.batch.person not in (None, other)


@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        ("{", 400, "no-json"),
        ("[" * 100_000, 400, "no-json"),
        ("[]", 400, "no-scans"),
        ('{"version": 2, "now": "2026-06-01T12:00:00Z", "device": "phone-one", "scans": []}', 400, "version"),
        ('{"version": 1, "now": "noon", "device": "phone-one", "scans": []}', 400, "now"),
        ('{"version": 1, "now": "2026-06-01T12:00:00Z", "device": "x", "scans": []}', 400, "device"),
        (json.dumps({"version": 1, "scans": [{}] * 501}), 413, "too-many"),
    ],
)
def test_what_is_no_batch_is_not_stored_and_the_queue_is_to_be_kept(hand, body, status, code):
    answer = hand.post("/api/scans", body, content_type="application/json")
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert Submission.objects.count() == 0


def test_a_stranger_and_a_planner_are_turned_away_in_json(yard, client_as):
    assert post(Client(), status=401)["code"] == "signed-out"
    assert post(client_as("planner"), status=403)["code"] == "not-with-this-sign-in"


def test_a_session_needs_the_form_token_and_gets_a_fresh_one(yard):
    client = Client(enforce_csrf_checks=True)
    client.force_login(UserFactory(roles=["hand"]))
    assert post(client, status=403)["code"] == "form-token"
    token = client.get("/api/me").json()["form_token"]
    assert post(client, **{"X-CSRFToken": token})["answers"] == []
    cookie = client.cookies["csrftoken"].value
    assert post(client, **{"X-CSRFToken": cookie})["answers"] == []


def test_a_device_reports_with_its_key_until_it_is_withdrawn(yard):
    yard.pieces("AAA")
    device, key = devices.make_device("Handheld 1")
    client, bearer = Client(enforce_csrf_checks=True), {"Authorization": f"Bearer {key}"}
    made = scan("cleaned", tag="AAA")
    assert words(post(client, made, device=None, **bearer)) == ["recorded"]
    event = Event.objects.get(pk=made["id"])
    assert (event.device, event.person) == (device.code, None)
    assert client.get("/api/me", headers=bearer).json()["device"]["name"] == "Handheld 1"
    assert client.get("/api/known", headers=bearer).status_code == 200
    assert client.get("/pieces/", headers=bearer).status_code == 302
    devices.revoke(device, now=NOW)
    assert post(client, status=401, **bearer)["code"] == "key-revoked"
    assert post(client, status=401, Authorization="Bearer nothing")["code"] == "key-unknown"
    assert post(client, status=401, Authorization="Basic eDp5")["code"] == "key-unknown"


def test_a_key_has_256_bits_and_only_its_digest_is_stored(db):
    device, key = devices.make_device("Handheld 1")
    assert len(key) == 43  # 32 bytes in base64url without padding: RFC 4648 section 5
    assert key not in json.dumps(Device.objects.values().get(pk=device.pk), default=str)
    assert len(device.key_digest) == 64


def test_a_phone_cannot_report_in_the_name_of_a_device_with_a_key(yard, hand):
    device, _ = devices.make_device("Handheld 1")
    assert post(hand, device=device.code, status=400)["code"] == "device-has-a-key"


def picture(**more):
    file = io.BytesIO()
    Image.new("RGB", (60, 40), "red").save(file, "JPEG", **more)
    return file.getvalue()


def test_a_photo_is_kept_once_and_without_what_the_phone_wrote_into_it(yard, hand, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    exif = Image.Exif()
    exif[0x0110] = "Camera of a phone"  # Model, by the Exif standard (CIPA DC-008)
    where, body = f"/api/scans/{uuid4()}/photos/{uuid4()}", picture(exif=exif)
    assert b"Camera of a phone" in body
    for word in ("recorded", "already had"):
        assert hand.post(where, body, content_type="image/jpeg").json()["answer"] == word
    photo = Photo.objects.get()
    assert b"Camera of a phone" not in Path(photo.image.path).read_bytes()
    assert where == f"/api/scans/{photo.event_id}/photos/{photo.pk}"
    assert hand.get(f"/photos/{photo.pk}/").status_code == 200
    assert Client().get(f"/photos/{photo.pk}/").status_code == 302


def test_what_is_no_photo_is_refused_with_what_to_do(yard, hand, settings):
    where = f"/api/scans/{uuid4()}/photos/{uuid4()}"
    gif = io.BytesIO()
    Image.new("P", (3, 3)).save(gif, "GIF")
    for body in (b"no picture", gif.getvalue()):
        answer = hand.post(where, body, content_type="image/jpeg")
        assert (answer.status_code, answer.json()["code"]) == (400, "photo-unreadable")
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 100
    answer = hand.post(where, picture(), content_type="image/jpeg")
    assert (answer.status_code, answer.json()["code"]) == (413, "photo-large")


def test_what_a_phone_should_know(yard, hand):
    docket, (first, second) = yard.docket(), yard.pieces("AAA", "BBB")
    docket.lines.create(type=yard.form, wanted=3)
    yard.send(Report(Kind.INSPECTED, at(0.5), tag="BBB", data={"grade": Fitness.UNFIT}))
    yard.tell(Kind.SENT, 1, tag="AAA", docket=docket.pk)
    known = hand.get("/api/known", {"docket": docket.pk}).json()
    assert known["docket"]["lines"] == [
        {"type": "E150-3000", "wanted": 3, "loaded": 1, "arrived": 0, "missing": 2},
    ]
    assert known["docket"]["loaded"] == [first.pk]
    pieces = {each["id"]: each for each in known["pieces"]}
    assert (pieces[first.pk]["docket"], pieces[first.pk]["tags"]) == (docket.pk, ["AAA"])
    assert (pieces[second.pk]["fitness"], pieces[second.pk]["type"]) == ("unfit", "E150-3000")
    assert known["left_out"] == 0
    at_site = hand.get("/api/known", {"place": yard.pour.pk}).json()
    assert (at_site["place"], at_site["pieces"]) == (yard.site.pk, [])
    for wrong in ({"docket": "9999"}, {"place": "x"}, {"docket": "²"}):
        assert hand.get("/api/known", wrong).status_code == 404
