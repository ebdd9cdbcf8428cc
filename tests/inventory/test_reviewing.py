"""What is in review is settled by a person: by events, or with a reason; and the record follows."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from inventory.errors import Refused
from inventory.lifecycle.kinds import Kind
from inventory.models import Event, ReviewItem
from inventory.selectors.reviews import card_of, cards, may_have_been, open_items, record_before, verdicts
from inventory.services.recording import record
from inventory.services.replaying import replay
from inventory.services.reports import Report
from inventory.services.reviewing import Settlement, settle, ways
from tests.inventory.yard import NOW, at, docket_group, pour_group


def out_and_set(yard, *codes):
    docket, pieces = yard.docket(), yard.pieces(*codes)
    yard.send(*(Report(Kind.SENT, at(1), tag=code, docket=docket.pk) for code in codes))
    yard.tell(Kind.RECEIVED, 2, group=docket_group(docket))
    yard.tell(Kind.SET, 3, group=docket_group(docket), place=yard.pour.pk)
    return pieces


def waiting(code):
    return ReviewItem.objects.open().filter(code=code).first()


def said(yard, **more):
    return Settlement(by=yard.hand, now=NOW, **more)


def fresh(piece):
    piece.refresh_from_db()
    return piece


@pytest.fixture(autouse=True)
def the_cache_agrees_at_the_end(request, db):
    yield
    assert replay().found == []


def test_pieces_that_share_a_contradiction_share_a_card(yard):
    out_and_set(yard, "AAA", "BBB")
    yard.tell(Kind.STRIPPED, 40, group=pour_group(yard.pour))
    (card,) = cards(open_items())
    assert (card.code, len(card.pieces)) == ("strip-without-cast", 2)


def test_a_pour_stripped_with_neither_word_can_be_said_to_have_been_called_off(yard):
    one, two = out_and_set(yard, "AAA", "BBB")
    yard.tell(Kind.STRIPPED, 40, group=pour_group(yard.pour))
    settle(waiting("strip-without-cast"), "was-called-off", said(yard, when=at(20)))
    assert (fresh(one).uses, fresh(two).uses) == (0, 0)
    assert not ReviewItem.objects.open().exists()


def test_a_date_that_leaves_the_contradiction_is_refused(yard):
    out_and_set(yard, "AAA")
    yard.tell(Kind.STRIPPED, 40, group=pour_group(yard.pour))
    with pytest.raises(Refused, match="still contradicts"):
        settle(waiting("strip-without-cast"), "was-cast", said(yard, when=at(50)))
    assert waiting("strip-without-cast") is not None


@pytest.mark.parametrize("recorded", [True, False])
def test_where_nothing_changes_about_the_gear_an_event_says_who_said_so_and_why(yard, recorded):
    yard.pieces("AAA")
    if recorded:
        answer = yard.tell(Kind.RETURNED, 5, tag="AAA", place=yard.yard.pk)
        settle(waiting("returned-not-out"), "stands", said(yard, reason="it was in the lane"))
    else:
        answer = yard.tell(Kind.CLEANED, 5, tag="AAB", place=yard.bay.pk)
        settle(waiting("tag-unknown"), "noted", said(yard, reason="a neighbour's"))
    word = Event.objects.get(kind=Kind.SETTLED)
    assert (word.target, word.person, word.piece, word.happened_at) == (answer.id, yard.hand, None, NOW)
    assert word.data["settles"] == ("returned-not-out" if recorded else "tag-unknown")
    assert verdicts([answer.id])[answer.id].open is False


def test_a_phone_is_told_what_has_become_of_what_it_sent(yard, client_as):
    yard.pieces("AAA")
    answer = yard.tell(Kind.CLEANED, 5, tag="AAB", place=yard.bay.pk)
    hand, address = client_as("hand"), f"{reverse('api-reviews')}?scan={answer.id}"
    assert hand.get(address).json()["reviews"] == [{"id": str(answer.id), "open": True, "by": "", "how": ""}]
    settle(waiting("tag-unknown"), "noted", said(yard, reason="a neighbour's"))
    (told,) = hand.get(address).json()["reviews"]
    assert (told["open"], told["by"]) == (False, "A hand")
    assert told["how"] == "Noted, nothing to change: a neighbour's"
    assert hand.get(f"{reverse('api-reviews')}?scan=nonsense").status_code == 400


def test_a_clock_card_says_how_far_it_was_off_and_noting_it_writes_an_event(yard, client_as):
    yard.pieces("AAA")
    yard.send(Report(Kind.CLEANED, at(1), tag="AAA", place=yard.yard.pk), device_now=NOW + timedelta(seconds=605))
    item = waiting("clock-off")
    assert "10 min 5 s fast" in client_as("manager").get(reverse("review-card", args=[item.pk])).content.decode()
    settle(item, "noted", said(yard, reason="its clock is set"))
    assert Event.objects.get(kind=Kind.SETTLED).target == item.submission.event_id


def test_an_unknown_code_becomes_the_event_it_would_have_been(yard):
    (piece,) = yard.pieces("AAA")
    answer = yard.tell(Kind.CLEANED, 5, tag="AAB", place=yard.bay.pk)
    settle(waiting("tag-unknown"), "it-was", said(yard, piece=piece))
    event = Event.objects.get(pk=answer.id)
    assert (event.piece, event.happened_at, event.device) == (piece, at(5), "phone-1")


def test_a_piece_without_readable_tag_is_bound_once_to_one_that_it_may_have_been(yard):
    (piece,) = out_and_set(yard, "AAA")
    yard.tell(Kind.CALLED_OFF, 4, group=pour_group(yard.pour))
    yard.tell(Kind.STRIPPED, 5, group=pour_group(yard.pour))
    data = {"untagged": True, "from_place": yard.site.pk, "dirty": True}
    yard.tell(Kind.RETURNED, 9, type=yard.form.pk, quantity=1, place=yard.yard.pk, data=data)
    item = waiting("untagged")
    assert list(may_have_been(card_of(item))) == [piece]
    settle(item, "bind", said(yard, piece=piece))
    assert (fresh(piece).place, piece.dirty) == (yard.yard, True)
    assert not ReviewItem.objects.open().exists()


def test_a_piece_of_another_type_cannot_be_bound(yard):
    (bracket,) = yard.pieces("BBB", type=yard.bracket)
    yard.tell(Kind.RETURNED, 9, type=yard.form.pk, quantity=1, place=yard.yard.pk, data={"untagged": True})
    with pytest.raises(Refused) as refusal:
        settle(waiting("untagged"), "bind", said(yard, piece=bracket))
    assert refusal.value.code == "other-type"


def test_a_piece_that_came_back_under_another_job_has_its_move_dated(yard):
    (piece,) = out_and_set(yard, "AAA")
    yard.tell(Kind.CALLED_OFF, 4, group=pour_group(yard.pour))
    yard.tell(Kind.STRIPPED, 5, group=pour_group(yard.pour))
    yard.tell(Kind.RETURNED, 90, tag="AAA", place=yard.yard.pk, data={"from_place": yard.other.pk})
    item = waiting("returned-from-other-site")
    assert record_before(piece.pk, item.event_id).place == yard.site.pk
    settle(item, "moved", said(yard, when=at(48)))
    move = Event.objects.get(piece=piece, kind=Kind.RECEIVED)
    assert (move.place, move.happened_at) == (yard.other, at(48))
    assert not ReviewItem.objects.open().exists()


def test_taking_a_press_back_takes_it_back_for_the_pieces_of_the_card_only(yard):
    one, two = out_and_set(yard, "AAA", "BBB")
    yard.tell(Kind.CAST, 4, group=pour_group(yard.pour))
    yard.tell(Kind.STRIPPED, 5, group=pour_group(yard.pour))
    yard.tell(Kind.CLEANED, 6, tag="BBB", place=yard.site.pk)
    yard.tell(Kind.SET, 7, group=pour_group(yard.pour), place=yard.upper.pk)
    yard.tell(Kind.CAST, 8, group=pour_group(yard.upper))
    settle(waiting("cast-uncleaned"), "reverse", said(yard, reason="left out of this pour"))
    assert (fresh(one).uses, fresh(two).uses) == (1, 2)


def test_of_two_reports_with_one_id_the_second_can_be_right(yard):
    yard.pieces("AAA", "BBB")
    docket = yard.docket()
    first = Report(Kind.SENT, at(1), tag="AAA", docket=docket.pk)
    second = Report(Kind.SENT, at(1), id=first.id, tag="BBB", docket=docket.pk)
    record([first], by=yard.hand, now=NOW)
    record([second], by=yard.hand, now=NOW)
    settle(waiting("conflict"), "second", said(yard, reason="typed over"))
    assert set(docket.pieces.values_list("label", flat=True)) == {"BBB"}


def test_what_stands_needs_a_reason_and_keeps_it(yard):
    out_and_set(yard, "AAA")
    yard.tell(Kind.STRIPPED, 40, group=pour_group(yard.pour))
    item = waiting("strip-without-cast")
    with pytest.raises(Refused) as refusal:
        settle(item, "stands", said(yard))
    assert refusal.value.code == "reason-missing"
    settle(item, "stands", said(yard, reason="seen in concrete"))
    item.refresh_from_db()
    assert (item.settled_by, item.how) == (yard.hand, "What was reported stands: seen in concrete")


def test_a_card_settled_by_a_person_does_not_open_again(yard):
    out_and_set(yard, "AAA")
    yard.tell(Kind.STRIPPED, 40, group=pour_group(yard.pour))
    settle(waiting("strip-without-cast"), "stands", said(yard, reason="seen"))
    yard.tell(Kind.CLEANED, 0.5, tag="AAA", place=yard.yard.pk)
    assert waiting("strip-without-cast") is None


def test_every_card_has_an_honest_way_out(yard):
    out_and_set(yard, "AAA")
    yard.tell(Kind.STRIPPED, 40, group=pour_group(yard.pour))
    assert all(ways(card) for card in cards(open_items()))
