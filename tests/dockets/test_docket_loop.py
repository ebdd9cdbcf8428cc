"""A docket from opening to closing: each end's numbers stand beside the other's."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from inventory.errors import Refused
from inventory.lifecycle.kinds import Fitness, Kind
from inventory.models import CountedStock, DamageReason, Docket, Event, Piece, ReviewItem, Submission
from inventory.selectors.dockets import last_scan, sheet
from inventory.selectors.holdings import held_at
from inventory.selectors.reviews import card_of, may_have_been
from inventory.services import docket_scans, dockets
from inventory.services.docket_scans import Damage, Scan
from inventory.services.keeping import Arrival
from inventory.services.reviewing import bind_untagged
from inventory.services.scanned.taking import take

T0 = datetime(2026, 4, 1, 7, 0, tzinfo=UTC)


def at(minutes):
    return T0 + timedelta(minutes=minutes)


@pytest.fixture
def out(yard):
    return dockets.open_docket(from_place=yard.yard, to_place=yard.site, by=yard.hand, wanted={yard.form.pk: 3}, now=T0)


def scan(docket, code, minutes, **more):
    return docket_scans.load(docket, Scan(code=code), now=at(minutes), **more)


def sent_and_received(yard, out, codes):
    yard.pieces(*codes)
    for number, code in enumerate(codes):
        scan(out, code, number + 1)
    dockets.leave(out, by=yard.hand, vehicle="TR 1", driver="A driver", signed_by="A driver", now=at(60))
    dockets.receive(out, by=yard.hand, signed_by="A lead", now=at(120))
    out.refresh_from_db()
    return out


def test_numbers_run_without_gaps_even_when_an_opening_fails(yard, out):
    with pytest.raises(Refused):
        dockets.open_docket(from_place=yard.yard, to_place=yard.pour, by=yard.hand)
    second = dockets.open_docket(from_place=yard.site, to_place=yard.yard, by=yard.hand)
    assert (out.number, second.number) == ("D-00001", "D-00002")


def test_direction_follows_from_the_two_ends(yard):
    ways = [
        dockets.direction_of(*ends)
        for ends in ((yard.yard, yard.site), (yard.site, yard.yard), (yard.site, yard.other))
    ]
    assert ways == [Docket.Direction.OUT, Docket.Direction.BACK, Docket.Direction.ACROSS]


def test_a_scan_puts_a_piece_on_the_truck_and_the_sheet_says_what_is_missing(yard, out, codes):
    yard.pieces(*codes[:2])
    scan(out, codes[0], 1)
    line = sheet(out).lines[0]
    assert (line.wanted, line.loaded, line.missing) == (3, 1, 2)
    assert Piece.objects.get(label=codes[0]).docket == out


def test_more_of_one_thing_makes_up_for_no_other(yard, codes):
    docket = dockets.open_docket(
        from_place=yard.yard, to_place=yard.site, by=yard.hand, wanted={yard.form.pk: 2, yard.bracket.pk: 1}
    )
    for piece in yard.pieces(*codes[:3]):
        docket_scans.load(docket, Scan(piece=piece, by=yard.hand))
    assert (sheet(docket).loaded, sheet(docket).met, sheet(docket).lacking) == (3, 2, 1)


def test_a_piece_is_not_loaded_twice(yard, out, codes):
    yard.pieces(codes[0])
    scan(out, codes[0], 1)
    piece = Piece.objects.get(label=codes[0])
    with pytest.raises(Refused, match="already"):
        docket_scans.load(out, Scan(code=codes[0], piece=piece), now=at(2))
    assert sheet(out).loaded == 1


def test_unfit_gear_is_refused_and_a_managers_reason_stays_with_it(yard, out, codes):
    yard.pieces(codes[0], fitness=Fitness.UNFIT)
    refused = scan(out, codes[0], 1)
    assert refused.answer == Submission.Answer.REFUSED
    assert sheet(out).loaded == 0
    scan(out, codes[0], 2, override="goes to the maker for mending")
    assert Event.objects.get(kind="sent").data["override"] == "goes to the maker for mending"
    assert [piece.label for piece in sheet(out).unfit] == [codes[0]]


def test_broken_gear_goes_home_without_a_managers_word(yard, codes):
    """It is locked out of use, not out of the truck that brings it to be mended."""
    (bent,) = yard.pieces(codes[0])
    yard.tell(Kind.RECEIVED, 0.2, piece=bent.pk, place=yard.site.pk)
    yard.tell(Kind.FOUND_DAMAGED, 0.5, piece=bent.pk, place=yard.site.pk, data={"grade": "unfit"})
    home = dockets.open_docket(from_place=yard.site, to_place=yard.yard, by=yard.hand)
    assert scan(home, codes[0], 1).answer == Submission.Answer.RECORDED
    dockets.leave(home, by=yard.hand, vehicle="TR 1", driver="A driver", signed_by="A driver", now=at(2))
    dockets.receive(home, by=yard.hand, signed_by="A hand", now=at(3))
    assert Piece.objects.get(label=codes[0]).place == yard.yard
    assert not ReviewItem.objects.exists()


def test_undo_takes_the_piece_off_and_keeps_both_in_the_history(yard, out, codes):
    piece = yard.pieces(codes[0])[0]
    scan(out, codes[0], 1)
    docket_scans.undo(out, last_scan(out), by=yard.hand, now=at(2))
    piece.refresh_from_db()
    assert piece.place == yard.yard
    assert sheet(out).loaded == 0
    assert last_scan(out) is None
    assert set(Event.objects.filter(piece=piece).values_list("kind", flat=True)) == {"registered", "sent", "reversed"}


def test_one_scan_of_a_crate_loads_what_is_listed_in_it(yard, out, codes):
    crate = yard.pieces(codes[0], type=yard.crate)[0]
    yard.pieces(*codes[1:4], type=yard.bracket, crate=crate.pk)
    docket_scans.load(out, Scan(code=codes[0], piece=crate), now=at(1))
    assert {line.type.code: line.loaded for line in sheet(out).lines} == {"CR": 1, "FB": 3, "E150-3000": 0}
    assert Event.objects.filter(kind="sent").count() == 1
    docket_scans.undo(out, last_scan(out), by=yard.hand, now=at(2))
    assert sheet(out).loaded == 0


def test_a_crate_with_something_unfit_in_it_is_refused_by_name(yard, out, codes):
    crate = yard.pieces(codes[0], type=yard.crate)[0]
    yard.pieces(codes[1], type=yard.bracket, crate=crate.pk, fitness=Fitness.UNFIT)
    with pytest.raises(Refused, match=codes[1]):
        docket_scans.load(out, Scan(code=codes[0], piece=crate), now=at(1))


def test_leaving_with_nothing_on_it_is_refused(yard, out):
    with pytest.raises(Refused, match="Nothing"):
        dockets.leave(out, by=yard.hand, vehicle="TR 1", driver="A driver", signed_by="A driver", now=at(5))


def test_a_load_over_the_payload_limit_stays(yard, codes):
    yard.form.mass_kg = 30
    yard.form.save()
    docket = dockets.open_docket(from_place=yard.yard, to_place=yard.site, by=yard.hand, payload_limit_kg=50, now=T0)
    yard.pieces(*codes[:2])
    scan(docket, codes[0], 1)
    assert sheet(docket).over_kg == 0
    scan(docket, codes[1], 2)
    assert (sheet(docket).mass_kg, sheet(docket).over_kg) == (60, 10)
    with pytest.raises(Refused, match="10 kg over"):
        dockets.leave(docket, by=yard.hand, vehicle="TR 1", driver="D", signed_by="D", now=at(5))


def test_received_at_one_press_everything_is_at_the_site(yard, out, codes):
    out = sent_and_received(yard, out, codes[:3])
    assert Piece.objects.filter(place=yard.site).count() == 3
    assert Event.objects.filter(kind="received").count() == 1
    assert sheet(out).differences == []


def test_what_did_not_come_stays_on_the_docket_and_is_named(yard, out, codes):
    out = sent_and_received(yard, out, codes[:3])
    gone = Piece.objects.get(label=codes[1])
    docket_scans.not_arrived(out, gone, by=yard.hand, now=at(130))
    gone.refresh_from_db()
    assert (gone.place, gone.docket) == (None, out)
    (difference,) = sheet(out).differences
    assert [one.piece.label for one in difference.not_arrived] == [codes[1]]
    assert difference.words == "wanted 3; loaded 3; arrived 2"


def test_counts_of_driver_yard_and_site_stand_side_by_side(yard, out, codes):
    out = sent_and_received(yard, out, codes[:3])
    dockets.hand_count(out, who="driver", counts={yard.form.pk: 4})
    dockets.hand_count(out, who="site", counts={yard.form.pk: 2})
    (difference,) = sheet(out).differences
    assert difference.words == "wanted 3; loaded 3; driver counted 4; site counted 2; arrived 3"


def test_back_in_the_yard_each_piece_is_clean_or_dirty_and_damage_goes_beside_it(yard, out, codes):
    sent_and_received(yard, out, codes[:3])
    back = dockets.open_docket(from_place=yard.site, to_place=yard.yard, by=yard.hand, now=at(1000))
    bent = DamageReason.objects.create(words="bent flange", usual_grade=Fitness.UNFIT)
    docket_scans.come_back(back, Scan(code=codes[0]), dirty=True, now=at(1001))
    docket_scans.come_back(back, Scan(code=codes[1]), dirty=False, damage=Damage(bent, bent.usual_grade), now=at(1002))
    first, second = (Piece.objects.get(label=code) for code in codes[:2])
    assert (first.place, first.dirty, first.fitness) == (yard.yard, True, Fitness.SOUND)
    assert (second.place, second.dirty, second.fitness) == (yard.yard, False, Fitness.UNFIT)
    assert [(row.type, row.quantity) for row in held_at(yard.site)] == [(yard.form, 1)]
    (difference,) = sheet(back).differences
    assert len(difference.not_loaded) == 2


def test_a_piece_of_another_site_is_taken_and_goes_to_review(yard, out, codes):
    sent_and_received(yard, out, codes[:3])
    back = dockets.open_docket(from_place=yard.other, to_place=yard.yard, by=yard.hand, now=at(1000))
    (answer,) = docket_scans.come_back(back, Scan(code=codes[0]), dirty=True, now=at(1001))
    assert answer.answer == Submission.Answer.IN_REVIEW
    assert ReviewItem.objects.open().filter(code="returned-from-other-site").exists()
    assert Piece.objects.get(label=codes[0]).place == yard.yard


def test_a_piece_without_a_readable_tag_comes_back_by_type(yard, out, codes):
    sent_and_received(yard, out, codes[:3])
    back = dockets.open_docket(from_place=yard.site, to_place=yard.yard, by=yard.hand, now=at(1000))
    docket_scans.untagged_back(back, yard.form, by=yard.hand, dirty=True, now=at(1001))
    (line,) = sheet(back).lines
    assert (line.untagged, line.came) == (1, 1)
    event = ReviewItem.objects.open().get(code="untagged").event
    bind_untagged(event, Piece.objects.get(label=codes[0]), by=yard.hand, now=at(1002))
    (line,) = sheet(back).lines
    assert (line.untagged, line.came) == (0, 1)  # the piece itself now, and not both


def test_a_piece_without_a_readable_tag_counts_as_loaded_and_once_when_it_is_known(yard, out, codes):
    (piece,) = yard.pieces(codes[0])
    said = {"id": str(uuid4()), "seq": 1, "happened": at(1).isoformat(), "what": "sent", "type": yard.form.code}
    (answer,) = take([said | {"docket": out.pk}], Arrival(yard.hand.pk, None, at(1), at(1))).answers
    assert (answer.answer, sheet(out).loaded) == ("kept for review", 1)
    card = card_of(ReviewItem.objects.get(code="untagged"))
    assert list(may_have_been(card)) == [piece]
    bind_untagged(card.event, piece, by=yard.hand, now=at(2))
    assert sheet(out).loaded == 1
    piece.refresh_from_db()
    assert piece.docket == out


def test_counted_goods_go_and_come_by_quantity(yard, out, codes):
    docket_scans.move_goods(out, yard.bolt, 200, by=yard.hand, now=at(1))
    assert {line.type.code: line.loaded for line in sheet(out).lines}["M12"] == 200
    dockets.leave(out, by=yard.hand, vehicle="TR 1", driver="D", signed_by="D", now=at(5))
    dockets.receive(out, by=yard.hand, signed_by="A lead", now=at(50))
    assert CountedStock.objects.get(type=yard.bolt, place=yard.site).quantity == 200
    assert {line.type.code: line.came for line in sheet(out).lines}["M12"] == 200


def test_a_tagged_type_is_not_moved_by_quantity(yard, out):
    with pytest.raises(Refused, match="by tag"):
        docket_scans.move_goods(out, yard.form, 3, by=yard.hand, now=at(1))


def test_across_from_site_to_site_the_piece_changes_sites_with_the_truck(yard, out, codes):
    sent_and_received(yard, out, codes[:1])
    across = dockets.open_docket(from_place=yard.site, to_place=yard.other, by=yard.hand, now=at(1000))
    scan(across, codes[0], 1001)
    dockets.leave(across, by=yard.hand, vehicle="TR 1", driver="D", signed_by="D", now=at(1010))
    dockets.receive(across, by=yard.hand, signed_by="A lead", now=at(1050))
    assert Piece.objects.get(label=codes[0]).place == yard.other


def test_a_docket_is_closed_only_after_it_was_received_and_cancelled_only_when_empty(yard, out, codes):
    yard.pieces(codes[0])
    scan(out, codes[0], 1)
    with pytest.raises(Refused, match="received"):
        dockets.close(out)
    with pytest.raises(Refused, match="off"):
        dockets.cancel(out)
    docket_scans.undo(out, last_scan(out), by=yard.hand, now=at(2))
    assert dockets.cancel(out).stage == "cancelled"


def test_the_sheet_asks_the_database_as_often_for_a_long_load_as_for_a_short_one(
    yard, out, codes, django_assert_max_num_queries
):
    yard.pieces(*codes)
    for number, code in enumerate(codes):
        scan(out, code, number + 1)
    with django_assert_max_num_queries(7):
        sheet(out)
