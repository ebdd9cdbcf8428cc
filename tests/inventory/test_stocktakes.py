"""A yard walked and scanned by several phones, in signal or out: found, missing, out of place; then closed."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from inventory.errors import Refused
from inventory.lifecycle.kinds import Kind, Standing
from inventory.models import CountedStock, Device, Event, Missing, ReviewItem
from inventory.selectors.reviews import card_of, may_have_been
from inventory.selectors.stocktakes import compare
from inventory.services.keeping import Arrival
from inventory.services.replaying import replay
from inventory.services.reports import Report
from inventory.services.reviewing import Settlement, settle
from inventory.services.scanned.taking import take
from inventory.services.stocktakes import close_stocktake, open_stocktake
from tests.inventory.yard import NOW, at, docket_group

OPENED = at(100)


@pytest.fixture
def stocktake(yard):
    """Of the home yard, with five pieces in it, one of them in a crate; and one each on site, lost and retired."""
    yard.made = dict(zip("ABCDE", yard.pieces("AAA", "BBB", "CCC", "DDD", "EEE"), strict=True))
    (yard.crate_piece,) = yard.pieces("KKK", type=yard.crate)
    yard.tell(Kind.COUNTED, 1, tag="EEE", data={"crate": yard.crate_piece.pk})
    yard.made |= dict(zip("XYZ", yard.pieces("XXX", "YYY", "ZZZ"), strict=True))
    yard.tell(Kind.RECEIVED, 2, tag="XXX", place=yard.site.pk)
    yard.tell(Kind.LOST, 3, tag="YYY")
    yard.tell(Kind.RETIRED, 4, tag="ZZZ")
    return open_stocktake(yard.yard, by=yard.hand, now=OPENED)


def see(yard, stocktake, hours, *codes, phone="phone-one", now=NOW, **more):
    """Scans of one phone, through the surface that phones use."""
    device, _ = Device.objects.get_or_create(code=phone)
    scans = [
        {
            "id": str(uuid4()),
            "seq": seq,
            "happened": at(hours).isoformat(),
            "what": "counted",
            **({"tag": code} if code else {}),
            "place": yard.yard.pk,
            "stocktake": stocktake.pk,
            **more,
        }
        for seq, code in enumerate(codes)
    ]
    return take(scans, Arrival(yard.hand.pk, device, now, now)).answers


def labels(rows):
    return sorted(getattr(each, "piece", each).label for each in rows)


def standing(piece):
    piece.refresh_from_db()
    return piece.standing, piece.place


def test_what_is_seen_is_compared_and_moves_nothing_until_it_is_closed(yard, stocktake):
    answers = see(yard, stocktake, 101, "AAA", "BBB", "XXX") + see(yard, stocktake, 102, "AAA", "YYY", "ZZZ", phone="b")
    assert {each.answer for each in answers} == {"recorded"}
    compared = compare(stocktake)
    assert labels(compared.found) == ["AAA", "BBB"]
    assert labels(compared.missing) == ["CCC", "DDD", "EEE", "KKK"]
    assert [labels(rows) for rows in (compared.out_of_place, compared.was_lost, compared.off_the_books)] == [
        ["XXX"],
        ["YYY"],
        ["ZZZ"],
    ]
    assert standing(yard.made["X"]) == (Standing.HELD, yard.site)
    assert standing(yard.made["Y"])[0] == Standing.LOST
    assert not ReviewItem.objects.open().exists()
    assert replay().found == []


def test_a_crate_that_is_seen_does_not_show_what_lies_in_it(yard, stocktake):
    see(yard, stocktake, 101, "KKK")
    assert labels(compare(stocktake).found) == ["KKK"]
    assert "EEE" in labels(compare(stocktake).missing)


def test_a_press_on_a_group_is_no_sighting_and_a_scan_taken_back_is_none_either(yard, stocktake):
    docket = yard.docket(yard.site, yard.yard)
    yard.tell(Kind.SENT, 101, tag="XXX", docket=docket.pk)
    yard.tell(Kind.RETURNED, 102, group=docket_group(docket))
    (answer,) = see(yard, stocktake, 103, "AAA")
    yard.send(Report(Kind.REVERSED, at(104), target=answer.id))
    compared = compare(stocktake)
    assert labels(compared.found) == []
    assert labels(compared.came_since) == ["XXX"]
    assert "AAA" in labels(compared.missing)


def test_what_has_left_since_it_was_seen_is_not_out_of_place(yard, stocktake):
    see(yard, stocktake, 101, "AAA")
    yard.tell(Kind.RECEIVED, 102, tag="AAA", place=yard.site.pk)
    compared = compare(stocktake)
    assert (labels(compared.left_since), labels(compared.out_of_place)) == (["AAA"], [])


def test_closing_writes_counts_losses_and_finds_and_asks_after_the_rest(yard, stocktake):
    see(yard, stocktake, 101, "AAA", "XXX", "YYY")
    before = Event.objects.count()
    later = NOW + timedelta(hours=1)
    close_stocktake(stocktake, lost=[yard.made["C"].pk], by=yard.hand, now=later)
    written = Event.objects.filter(recorded_at=later).order_by("kind", "piece__label")
    assert [(event.kind, event.piece.label) for event in written] == [
        (Kind.COUNTED, "AAA"),
        (Kind.COUNTED, "XXX"),
        (Kind.FOUND, "YYY"),
        (Kind.LOST, "CCC"),
    ]
    assert Event.objects.count() == before + 4
    assert standing(yard.made["X"]) == (Standing.HELD, yard.yard)
    assert standing(yard.made["Y"]) == (Standing.HELD, yard.yard)
    assert standing(yard.made["C"])[0] == Standing.LOST
    assert standing(yard.made["B"]) == (Standing.HELD, yard.yard)
    asked = Missing.objects.open().values_list("piece__label", "missed")
    assert sorted(asked) == [(label, "stocktake") for label in ("BBB", "DDD", "EEE", "KKK")]
    assert not ReviewItem.objects.open().exists()
    assert replay().found == []
    stocktake.refresh_from_db()
    assert (stocktake.found, stocktake.missing, stocktake.written_off, stocktake.out_of_place) == (1, 5, 1, 2)


def test_it_is_closed_once_and_not_when_what_was_to_be_written_off_has_been_seen(yard, stocktake):
    see(yard, stocktake, 101, "AAA")
    with pytest.raises(Refused, match="Look again"):
        close_stocktake(stocktake, lost=[yard.made["A"].pk], by=yard.hand, now=NOW)
    close_stocktake(stocktake, lost=[], by=yard.hand, now=NOW)
    with pytest.raises(Refused, match="closed already"):
        close_stocktake(stocktake, lost=[], by=yard.hand, now=NOW)


def test_a_scan_that_comes_after_the_close_goes_to_review_and_finds_the_piece_again(yard, stocktake):
    close_stocktake(stocktake, lost=[yard.made["C"].pk], by=yard.hand, now=NOW)
    later = NOW + timedelta(hours=2)
    (answer,) = see(yard, stocktake, 101, "CCC", now=later)
    assert (answer.answer, answer.code) == ("kept for review", "stocktake-over")
    item = ReviewItem.objects.open().get()
    settle(item, "was-there", Settlement(by=yard.hand, now=later))
    assert standing(yard.made["C"]) == (Standing.HELD, yard.yard)
    assert replay().found == []


def test_a_stocktake_that_is_not_there_is_kept_for_review(yard, stocktake):
    stocktake.pk += 99
    (answer,) = see(yard, stocktake, 101, "AAA")
    assert (answer.answer, answer.code) == ("kept for review", "stocktake-unknown")


def test_one_at_a_time_and_only_of_a_whole_yard_or_site(yard, stocktake):
    with pytest.raises(Refused, match="open already"):
        open_stocktake(yard.yard, by=yard.hand, now=NOW)
    with pytest.raises(Refused, match="whole yard or site"):
        open_stocktake(yard.bay, by=yard.hand, now=NOW)


def test_a_piece_whose_tag_cannot_be_read_is_seen_once_somebody_has_said_which_it_was(yard, stocktake, client_as):
    see(yard, stocktake, 101, "", type=yard.form.code)
    compared = compare(stocktake)
    assert (compared.untagged, compared.seen, len(compared.missing)) == (1, 0, 6)
    assert (
        "whose tag could not be read"
        in client_as("hand").get(reverse("stocktake", args=[stocktake.pk])).content.decode()
    )
    card = card_of(ReviewItem.objects.get(code="untagged"))
    assert labels(may_have_been(card)) == ["AAA", "BBB", "CCC", "DDD", "EEE"]
    settle(card.items[0], "bind", Settlement(by=yard.hand, piece=yard.made["C"], now=NOW))
    compared = compare(stocktake)
    assert (compared.untagged, labels(compared.found)) == (0, ["CCC"])


def heap(yard, stocktake, hours, many, phone="phone-one", now=NOW, **more):
    return see(yard, stocktake, hours, "", phone=phone, now=now, type="M12", quantity=many, **more)


def stock(yard):
    return dict(CountedStock.objects.filter(place=yard.yard).values_list("condition", "quantity"))


@pytest.fixture
def bolts(yard, stocktake):
    """A hundred sound bolts by the record."""
    yard.tell(Kind.COUNTED, 10, type=yard.bolt.pk, quantity=100, place=yard.yard.pk)


def test_counted_goods_change_when_it_is_closed_and_heaps_counted_by_two_phones_add_up(yard, stocktake, bolts):
    heap(yard, stocktake, 101, 30)
    heap(yard, stocktake, 102, 45, phone="phone-two")
    (wrong,) = heap(yard, stocktake, 103, 900)
    heap(yard, stocktake, 104, 3, grade="unfit")
    yard.send(Report(Kind.REVERSED, at(105), target=wrong.id))
    assert stock(yard) == {"sound": 100}
    lines = {line.condition: (line.record, line.counted, line.difference) for line in compare(stocktake).goods}
    assert lines == {"sound": (100, 75, -25), "unfit": (0, 3, 3)}
    docket = yard.docket()
    yard.tell(Kind.SENT, 106, type=yard.bolt.pk, quantity=20, docket=docket.pk)  # after they were counted
    close_stocktake(stocktake, lost=[], by=yard.hand, now=NOW)
    assert stock(yard) == {"sound": 55, "unfit": 3}
    assert replay().found == []


def test_goods_that_nobody_counted_stay_as_they_are(yard, stocktake, bolts):
    (line,) = compare(stocktake).goods
    assert (line.record, line.counted, line.difference) == (100, None, None)
    close_stocktake(stocktake, lost=[], by=yard.hand, now=NOW)
    assert stock(yard) == {"sound": 100}


def test_a_heap_that_comes_after_the_close_is_added_when_the_manager_says_it_was_there(yard, stocktake, bolts):
    heap(yard, stocktake, 101, 60)
    close_stocktake(stocktake, lost=[], by=yard.hand, now=NOW)
    later = NOW + timedelta(hours=2)
    (answer,) = heap(yard, stocktake, 102, 15, now=later)
    assert (answer.code, stock(yard)) == ("stocktake-over", {"sound": 60})
    settle(ReviewItem.objects.open().get(), "was-there", Settlement(by=yard.hand, now=later))
    assert stock(yard) == {"sound": 75}
    assert replay().found == []


def test_what_is_written_off_on_a_site_is_charged_if_the_manager_says_so(yard, client_as):
    (piece,) = yard.pieces("AAA")
    yard.tell(Kind.RECEIVED, 2, tag="AAA", place=yard.site.pk)
    stocktake = open_stocktake(yard.site, by=yard.hand, now=OPENED)
    manager, closing = client_as("manager"), reverse("stocktake-close", args=[stocktake.pk])
    assert (
        "charge the job whose site this is" in manager.get(reverse("stocktake", args=[stocktake.pk])).content.decode()
    )
    manager.post(closing, {"shown": piece.pk, "lost": piece.pk, "charge": "yes", "sure": "on"})
    assert Event.objects.get(kind=Kind.LOST).data["charge"] is True


def test_marks_to_write_off_are_kept_page_by_page_and_no_job_is_charged_for_a_yards_loss(
    yard, stocktake, client_as, monkeypatch
):
    monkeypatch.setattr("inventory.views.stocktakes.SHOWN", 2)
    manager = client_as("manager")
    page, marking, closing = (
        reverse(name, args=[stocktake.pk]) for name in ("stocktake", "stocktake-mark", "stocktake-close")
    )
    answer = manager.get(page)
    assert "no job is charged" in answer.content.decode()
    first = answer.context["pages"]["missing"]
    assert (len(first), first.paginator.num_pages) == (2, 3)
    shown = [piece.pk for piece in first]
    answer = manager.post(marking, {"shown": shown, "lost": shown[:1], "turn": 2}, follow=True)
    second = answer.context["pages"]["missing"]
    assert (second.number, answer.context["marked"]) == (2, {shown[0]})
    more = [piece.pk for piece in second]
    assert client_as("hand").post(marking, {"shown": more}).status_code == 403

    see(yard, stocktake, 101, first[0].label)  # it turns up while the manager looks
    refused = manager.post(closing, {"shown": more, "lost": more[:1], "charge": "yes", "sure": "on"})
    assert "Look again" in refused.content.decode()
    assert refused.context["marked"] == {more[0]}
    manager.post(closing, {"charge": "yes", "sure": "on"})
    (lost,) = Event.objects.filter(kind=Kind.LOST, data__closes=stocktake.pk)
    assert (lost.piece_id, lost.data["charge"]) == (more[0], False)
    assert not stocktake.marks.exists()


def test_everything_missing_is_marked_or_unmarked_at_one_press(yard, stocktake, client_as):
    manager, marking = client_as("manager"), reverse("stocktake-mark", args=[stocktake.pk])
    manager.post(marking, {"every": "marked"})
    assert stocktake.marks.count() == len(compare(stocktake).missing) == 6
    manager.post(marking, {"every": "unmarked"})
    assert not stocktake.marks.exists()


def test_the_manager_opens_and_closes_it_and_the_hand_sees_it(yard, client_as):
    yard.pieces("ABCDEFGH3", "BBB")
    manager, hand = client_as("manager"), client_as("hand")
    answer = manager.post(reverse("stocktake-new"), {"place": yard.yard.pk}, follow=True)
    stocktake = answer.context["stocktake"]
    known = hand.get("/api/known").json()["places"]
    assert {place["stocktake"] for place in known if place["id"] in (yard.yard.pk, yard.bay.pk)} == {stocktake.pk}
    said = {"doing": "count", "place": yard.yard.pk, "code": "ABCDEFGH3", "typed": "on"}
    hand.post(reverse("scan-read"), said)
    assert labels(compare(stocktake).found) == ["ABCDEFGH3"]
    (row,) = hand.get(reverse("stocktakes")).context["page"]
    assert row.closed_at is None
    assert "1 stocktake is" in hand.get(reverse("stocktakes")).content.decode()
    page = hand.get(reverse("stocktake", args=[stocktake.pk])).content.decode()
    assert "Write off" not in page
    where = reverse("stocktake-close", args=[stocktake.pk])
    assert hand.post(where, {"sure": "on"}).status_code == 403
    assert "This field is required" in manager.post(where, {}).content.decode()
    closed = manager.post(where, {"sure": "on"}, follow=True).content.decode()
    assert "Closed" in closed
    assert Missing.objects.open().filter(missed="stocktake").exists()
