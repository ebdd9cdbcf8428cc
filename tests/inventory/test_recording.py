"""Reports become events, events become states, and every report gets an answer that is kept."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest

from inventory.lifecycle.kinds import Kind
from inventory.models import Batch, CountedStock, Event, ReviewItem, Submission
from inventory.services.answering import Manner
from inventory.services.reports import Report
from tests.inventory.yard import NOW, at, crate_group, docket_group, pour_group

ANSWER = Submission.Answer


def loaded_and_set(yard, *codes):
    """Pieces that went out on a docket, arrived and were set in the pour."""
    docket, pieces = yard.docket(), yard.pieces(*codes)
    yard.send(*(Report(Kind.SENT, at(1), tag=code, docket=docket.pk) for code in codes))
    yard.tell(Kind.RECEIVED, 2, group=docket_group(docket))
    yard.tell(Kind.SET, 3, group=docket_group(docket), place=yard.pour.pk)
    return pieces


def fresh(piece):
    piece.refresh_from_db()
    return piece


def codes_open():
    return sorted(ReviewItem.objects.open().values_list("code", flat=True))


def test_a_piece_goes_out_is_cast_and_comes_back_dirty(yard):
    (piece,) = loaded_and_set(yard, "AAA")
    assert fresh(piece).place == yard.pour
    yard.tell(Kind.CAST, 4, group=pour_group(yard.pour))
    yard.tell(Kind.STRIPPED, 40, group=pour_group(yard.pour))
    assert (fresh(piece).place, piece.uses, piece.dirty) == (yard.site, 1, True)
    yard.tell(Kind.RETURNED, 50, tag="AAA", place=yard.yard.pk, data={"dirty": True, "from_place": yard.site.pk})
    assert (fresh(piece).place, piece.docket) == (yard.yard, None)
    assert codes_open() == []


def test_one_press_is_one_stored_event(yard):
    loaded_and_set(yard, "AAA", "BBB", "CCC")
    before = Event.objects.count()
    yard.tell(Kind.CAST, 4, group=pour_group(yard.pour))
    assert Event.objects.count() == before + 1


def test_a_batch_twice_is_a_batch_once(yard):
    docket, _ = yard.docket(), yard.pieces("AAA", "BBB")
    batch = [Report(Kind.SENT, at(1), tag=code, docket=docket.pk) for code in ("AAA", "BBB")]
    yard.send(*batch)
    rows = Event.objects.count(), Submission.objects.count(), Batch.objects.count()
    again = yard.send(*batch)
    assert [a.answer for a in again] == [ANSWER.ALREADY_HAD] * 2
    assert (Event.objects.count(), Submission.objects.count(), Batch.objects.count()) == rows


def test_the_same_report_twice_in_one_batch_is_one_event(yard):
    docket, _ = yard.docket(), yard.pieces("AAA")
    report = Report(Kind.SENT, at(1), tag="AAA", docket=docket.pk)
    answers = yard.send(report, report)
    assert [a.answer for a in answers] == [ANSWER.RECORDED, ANSWER.ALREADY_HAD]


def test_the_same_id_with_other_contents_is_a_conflict_for_review(yard):
    docket, (piece, _) = yard.docket(), yard.pieces("AAA", "BBB")
    pk = uuid4()
    yard.send(Report(Kind.SENT, at(1), id=pk, tag="AAA", docket=docket.pk))
    other = Report(Kind.SENT, at(1), id=pk, tag="BBB", docket=docket.pk)
    answer = yard.send(other)[0]
    assert (answer.answer, answer.code) == (ANSWER.IN_REVIEW, "conflict")
    assert Event.objects.get(pk=pk).piece == piece
    assert codes_open() == ["conflict"]
    yard.send(other)
    assert codes_open() == ["conflict"]


def test_a_late_set_still_gets_its_cast(yard):
    docket, pieces = yard.docket(), yard.pieces("AAA")
    yard.send(Report(Kind.SENT, at(1), tag="AAA", docket=docket.pk))
    yard.tell(Kind.CAST, 4, group=pour_group(yard.pour))
    yard.tell(Kind.STRIPPED, 40, group=pour_group(yard.pour))
    yard.tell(Kind.RECEIVED, 2, group=docket_group(docket))
    yard.tell(Kind.SET, 3, tag="AAA", place=yard.pour.pk)
    assert (fresh(pieces[0]).uses, pieces[0].place) == (1, yard.site)


def test_a_late_group_press_reaches_a_piece_that_has_since_left_the_pour(yard):
    (piece,) = loaded_and_set(yard, "AAA")
    yard.tell(Kind.STRIPPED, 40, group=pour_group(yard.pour))
    yard.tell(Kind.RETURNED, 50, tag="AAA", place=yard.yard.pk)
    assert codes_open() == ["strip-without-cast"]
    yard.tell(Kind.CALLED_OFF, 10, group=pour_group(yard.pour))
    assert (fresh(piece).uses, piece.dirty) == (0, False)
    assert codes_open() == []


def test_a_late_reversal_of_a_group_press_reaches_a_piece_that_has_since_left(yard):
    (piece,) = loaded_and_set(yard, "AAA")
    cast = yard.tell(Kind.CAST, 4, group=pour_group(yard.pour))
    yard.tell(Kind.CALLED_OFF, 5, group=pour_group(yard.pour))
    yard.tell(Kind.STRIPPED, 40, group=pour_group(yard.pour))
    yard.tell(Kind.RETURNED, 50, tag="AAA", place=yard.yard.pk)
    assert fresh(piece).uses == 1
    yard.tell(Kind.REVERSED, 60, target=cast.id)
    assert fresh(piece).uses == 0


def test_an_exception_takes_a_press_back_for_one_piece(yard):
    (one, two) = loaded_and_set(yard, "AAA", "BBB")
    cast = yard.tell(Kind.CAST, 4, group=pour_group(yard.pour))
    yard.tell(Kind.REVERSED, 5, target=cast.id, piece=two.pk)
    assert (fresh(one).uses, fresh(two).uses) == (1, 0)


def test_a_reversal_that_comes_before_its_target_holds(yard):
    (piece,) = loaded_and_set(yard, "AAA")
    pk = uuid4()
    yard.tell(Kind.REVERSED, 5, target=pk)
    yard.send(Report(Kind.CAST, at(4), id=pk, group=pour_group(yard.pour)))
    assert fresh(piece).uses == 0
    assert Event.objects.filter(pk=pk).exists()


def test_a_code_nobody_knows_is_kept_and_put_in_review(yard):
    docket = yard.docket()
    answer = yard.tell(Kind.SENT, 1, tag="NOPE", docket=docket.pk)
    assert (answer.answer, answer.code) == (ANSWER.IN_REVIEW, "tag-unknown")
    row = Submission.objects.get(event_id=answer.id)
    assert row.raw["tag"] == "NOPE" and codes_open() == ["tag-unknown"]


def test_a_tag_means_nothing_before_it_was_on_a_piece(yard):
    yard.pieces("AAA")
    answer = yard.tell(Kind.CLEANED, -1, tag="AAA", place=yard.bay.pk)
    assert answer.code == "tag-not-fixed"


def test_asking_to_load_unfit_gear_is_refused_until_a_manager_gives_a_reason(yard):
    docket, (piece,) = yard.docket(), yard.pieces("AAA")
    yard.tell(Kind.FOUND_DAMAGED, 0.5, tag="AAA", place=yard.yard.pk, data={"grade": "unfit"})
    report = Report(Kind.SENT, at(1), tag="AAA", docket=docket.pk)
    answer = yard.send(report, manner=Manner.ASK)[0]
    assert (answer.answer, answer.code) == (ANSWER.REFUSED, "unfit-refused")
    assert fresh(piece).place == yard.yard
    answer = yard.send(report, manner=Manner.ASK, override="going to the mender")[0]
    assert answer.answer == ANSWER.RECORDED
    assert Event.objects.get(pk=answer.id).data["override"] == "going to the mender"


def test_telling_of_unfit_gear_in_a_pour_is_believed_and_alarms(yard):
    loaded_and_set(yard, "AAA")
    yard.tell(Kind.FOUND_DAMAGED, 2.5, tag="AAA", place=yard.site.pk, data={"grade": "unfit"})
    answer = yard.tell(Kind.SET, 3.5, tag="AAA", place=yard.upper.pk)
    assert (answer.answer, answer.code, answer.loud) == (ANSWER.IN_REVIEW, "unfit-set", True)
    assert ReviewItem.objects.open().filter(code="unfit-set", loud=True).count() == 2


def test_a_time_in_the_future_is_kept_taken_as_receipt_and_flagged(yard):
    yard.pieces("AAA")
    said = NOW + timedelta(hours=3)
    answer = yard.send(Report(Kind.CLEANED, said, tag="AAA", place=yard.bay.pk))[0]
    event = Event.objects.get(pk=answer.id)
    assert (event.said_at, event.happened_at, answer.code) == (said, NOW, "future-time")


def test_times_are_corrected_by_how_far_the_device_clock_is_off(yard):
    yard.pieces("AAA")
    off = timedelta(hours=2)
    report = Report(Kind.CLEANED, NOW - timedelta(hours=1) + off, tag="AAA", place=yard.bay.pk)
    answer = yard.send(report, device_now=NOW + off)[0]
    assert Event.objects.get(pk=answer.id).happened_at == NOW - timedelta(hours=1)
    assert codes_open() == ["clock-off", "seen-elsewhere"] or codes_open() == ["clock-off"]


def test_a_crate_scanned_onto_a_docket_takes_its_contents_along(yard):
    docket = yard.docket()
    (crate,) = yard.pieces("CCC", type=yard.crate)
    (inside,) = yard.pieces("BBB", type=yard.bracket, crate=crate.pk)
    yard.tell(Kind.SENT, 1, tag="CCC", docket=docket.pk)
    assert (fresh(inside).docket, fresh(crate).docket) == (docket, docket)
    yard.tell(Kind.RECEIVED, 2, group=docket_group(docket))
    yard.tell(Kind.RETURNED, 9, group=crate_group(crate), place=yard.yard.pk)
    assert (fresh(inside).place, fresh(crate).place) == (yard.yard, yard.yard)


def test_counted_goods_move_by_quantity_and_a_count_asserts(yard):
    docket = yard.docket()
    yard.tell(Kind.COUNTED, 1, type=yard.bolt.pk, quantity=100, place=yard.yard.pk)
    yard.tell(Kind.SENT, 2, type=yard.bolt.pk, quantity=40, docket=docket.pk)
    yard.tell(Kind.COUNTED, 10, type=yard.bolt.pk, quantity=55, place=yard.yard.pk)
    yard.tell(Kind.SENT, 3, type=yard.bolt.pk, quantity=5, docket=docket.pk)
    yard.tell(Kind.RECEIVED, 12, group=docket_group(docket))
    rows = {row.place: row.quantity for row in CountedStock.objects.filter(type=yard.bolt)}
    assert rows == {yard.yard: 55, yard.site: 45}


def test_more_bolts_out_than_were_ever_counted_in_is_found_and_settles_itself(yard):
    docket = yard.docket()
    answer = yard.tell(Kind.SENT, 2, type=yard.bolt.pk, quantity=40, docket=docket.pk)
    assert (answer.code, codes_open()) == ("count-negative", ["count-negative"])
    yard.tell(Kind.COUNTED, 1, type=yard.bolt.pk, quantity=100, place=yard.yard.pk)
    assert codes_open() == []


def test_a_piece_without_readable_tag_is_stored_by_type_and_waits_in_review(yard):
    said = {"untagged": True, "from_place": yard.site.pk}
    answer = yard.tell(Kind.RETURNED, 9, type=yard.form.pk, quantity=1, place=yard.yard.pk, data=said)
    assert (answer.answer, answer.code) == (ANSWER.IN_REVIEW, "untagged")
    assert not CountedStock.objects.exists() and codes_open() == ["untagged"]


@pytest.mark.parametrize(
    ("kind", "said", "code"),
    [
        (Kind.SENT, {"piece": True}, "docket-missing"),
        (Kind.SET, {"piece": True}, "place-missing"),
        (Kind.FOUND_DAMAGED, {"piece": True}, "grade-missing"),
        (Kind.CLEANED, {}, "says-nothing"),
        (Kind.REVERSED, {"piece": True}, "target-missing"),
    ],
)
def test_a_report_that_says_too_little_is_refused_and_kept(yard, kind, said, code):
    (piece,) = yard.pieces("AAA")
    answer = yard.tell(kind, 1, **({"piece": piece.pk} if said else {}))
    assert (answer.answer, answer.code) == (ANSWER.REFUSED, code)
    assert Submission.objects.filter(event_id=answer.id, code=code).exists()
