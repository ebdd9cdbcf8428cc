"""What may still change a bill holds it back, and what is left out of it is shown to be decided."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.lifecycle.kinds import Kind
from inventory.models import GearType
from inventory.services import docket_scans, dockets
from jobs.errors import Refused
from jobs.models import Bill, ChargePrice, Waiver
from jobs.selectors.hire_desk import jobs_to_bill, stands_open
from jobs.services.billing import issue_bill
from jobs.services.hire_notes import write_down
from tests.jobs.bills.build import A_DAY, at, day, rows

GRADES = {"damage": {"grades": [{"grade": "watch", "amount": "12.00"}, {"grade": "unfit", "amount": "60.00"}]}}


@pytest.fixture
def hired(desk):
    desk.terms(A_DAY | GRADES)
    desk.out(desk.pieces[:2], at(3, 2))
    return desk


def refused(**more) -> str:
    with pytest.raises(Refused) as fault:
        issue_bill(now=at(4, 2), **more)
    return fault.value.code


def test_a_bill_with_an_open_review_goes_out_only_by_name_and_for_a_reason(hired):
    hired.tell(Kind.FOUND, hired.pieces[0], at(3, 3), place=hired.job.site_id)
    draft = hired.draft(day(4, 1), at(4, 1))
    assert stands_open(draft) == ["1 open review"]
    assert refused(bill=draft, by=hired.yard.hand) == "stands-open"
    assert refused(bill=draft, by=None, despite="It is the month's end.") == "no-name"
    bill = issue_bill(bill=draft, by=hired.yard.hand, despite=" It is the month's end. ", now=at(4, 2))
    bill.refresh_from_db()
    kept = (bill.issued_by, bill.despite, bill.stood_open)
    assert kept == (hired.yard.hand, "It is the month's end.", ["1 open review"])


def test_a_truck_not_closed_holds_up_the_bills_of_its_time_and_no_others(hired):
    yard = hired.yard
    docket = dockets.open_docket(from_place=yard.yard, to_place=hired.job.site, by=yard.hand, now=at(3, 20))
    docket_scans.load(docket, docket_scans.Scan(piece=hired.pieces[2], by=yard.hand, at=at(3, 20)), now=at(3, 20))
    dockets.leave(docket, vehicle="T1", driver="A", at=at(3, 20), now=at(3, 20), by=yard.hand, signed_by="A")
    assert stands_open(hired.draft(day(4, 1), at(4, 1))) == [f"docket {docket.number} is on the road"]
    draft = hired.draft(day(3, 15), at(4, 1))
    assert issue_bill(bill=draft, by=None, now=at(4, 1)).stood_open == []


def test_the_desk_gives_a_reason_on_the_page(hired, client_as):
    hired.tell(Kind.FOUND, hired.pieces[0], at(3, 3), place=hired.job.site_id)
    bill = hired.draft(day(4, 1), at(4, 1))
    desk, page = client_as("hire desk"), reverse("bill", args=[bill.pk])
    assert b"1 open review" in desk.get(page).content
    assert desk.post(reverse("bill-issue", args=[bill.pk])).url == page
    assert Bill.objects.get().issued_at is None
    desk.post(reverse("bill-issue", args=[bill.pk]), {"despite": "Agreed with the site."})
    assert b"issued it all the same: Agreed with the site." in desk.get(page).content


def test_something_sold_without_a_price_waits_for_one(hired):
    # 30 bolts are used up and go out without a price: the bill says so and waits. At 0.80 each they are 24.00.
    yard = hired.yard
    GearType.objects.filter(pk=yard.bolt.pk).update(used_up=True)
    docket = dockets.open_docket(from_place=yard.yard, to_place=hired.job.site, by=yard.hand, now=at(3, 5))
    docket_scans.move_goods(docket, yard.bolt, 30, by=yard.hand, at=at(3, 5), now=at(3, 5))
    signed = {"by": yard.hand, "signed_by": "A driver"}
    dockets.leave(docket, vehicle="T1", driver="A driver", at=at(3, 5), now=at(3, 5), **signed)
    dockets.receive(docket, at=at(3, 5), now=at(3, 5), **signed)
    dockets.close(docket, now=at(3, 5))
    draft = hired.draft(day(4, 1), at(4, 1))
    (left,) = draft.left_out
    assert (left["blocks"], left["why"]) == (True, "The terms give no price for sale of M12.")
    assert jobs_to_bill()[0].unpriced == [left]
    assert refused(bill=draft, by=None) == "stands-open"
    write_down(ChargePrice(job=hired.job, charge=left["key"], unit_amount=Decimal("0.80")), by=None, now=at(4, 2))
    priced = hired.draft(day(4, 1), at(4, 3))
    assert ("sale", "this period", "24.00") in rows(priced) and priced.left_out == []
    assert priced.lines.get(kind="sale").docket == docket.number
    write_down(Waiver(job=hired.job, charge=left["key"], reason="a gift"), by=None, now=at(4, 4))
    assert rows(hired.draft(day(4, 1), at(4, 5))) == [("hire", "this period", "60.00")]


def test_a_loss_that_nothing_values_waits_for_a_value(hired):
    hired.tell(Kind.LOST, hired.pieces[0], at(3, 12))
    draft = hired.draft(day(4, 1), at(4, 1))
    (left,) = draft.left_out
    assert left["blocks"] and left["why"] == "The terms give no value for E150-3000."
    write_down(ChargePrice(job=hired.job, charge=left["key"], unit_amount=Decimal(90)), by=None, now=at(4, 2))
    assert ("loss", "this period", "90.00") in rows(hired.draft(day(4, 1), at(4, 3)))


def test_damage_seen_twice_is_charged_once_and_shown_twice(hired):
    # The site tells that it is bent (12.00), the yard finds it unfit (60.00): one damage, 60.00, and both are shown.
    piece = hired.pieces[0]
    first = hired.tell(Kind.FOUND_DAMAGED, piece, at(3, 10), data={"grade": "watch", "reason": "bent"})
    hired.back(piece, at(3, 12))
    hired.tell(Kind.FOUND_DAMAGED, piece, at(3, 13), data={"grade": "unfit", "reason": "bent"})
    draft = hired.draft(day(4, 1), at(4, 1))
    assert [row for row in rows(draft) if row[0] == "damage"] == [("damage", "this period", "60.00")]
    (left,) = draft.left_out
    assert (left["key"], left["blocks"], left["price"]) == (f"damage:{first}", False, "12")
    assert "bent (watch) on 10 March 2026" in left["description"]
    assert issue_bill(bill=draft, by=None, now=at(4, 1)).left_out == [left]


def test_the_desk_may_charge_what_was_taken_for_the_same_damage(hired):
    piece = hired.pieces[0]
    first = hired.tell(Kind.FOUND_DAMAGED, piece, at(3, 10), data={"grade": "watch", "reason": "torn weld"})
    hired.tell(Kind.FOUND_DAMAGED, piece, at(3, 13), data={"grade": "unfit", "reason": "bent"})
    write_down(ChargePrice(job=hired.job, charge=f"damage:{first}", unit_amount=Decimal(12)), by=None, now=at(3, 14))
    draft = hired.draft(day(4, 1), at(4, 1))
    assert sorted(row[2] for row in rows(draft) if row[0] == "damage") == ["12.00", "60.00"]
    assert draft.left_out == []


def test_damage_after_a_piece_was_made_sound_is_another(hired):
    piece = hired.pieces[0]
    hired.tell(Kind.FOUND_DAMAGED, piece, at(3, 10), data={"grade": "watch", "reason": "bent"})
    hired.tell(Kind.INSPECTED, piece, at(3, 11), data={"grade": "sound"})
    hired.tell(Kind.FOUND_DAMAGED, piece, at(3, 13), data={"grade": "watch", "reason": "bent"})
    draft = hired.draft(day(4, 1), at(4, 1))
    assert [row[2] for row in rows(draft) if row[0] == "damage"] == ["12.00", "12.00"]
    assert draft.left_out == []


def test_each_docket_has_its_own_minimum(hired):
    # Two pieces went out on the 2nd and come back on the 4th: 4.00. At least 25.00 for a delivery: 21.00 more.
    hired.terms(A_DAY | {"minimum": {"amount": "25.00", "per": "delivery"}}, recorded_at=at(1, 2))
    for piece in hired.pieces[:2]:
        hired.back(piece, at(3, 4))
    draft = hired.draft(day(4, 1), at(4, 1))
    assert rows(draft) == [("hire", "this period", "4.00"), ("minimum", "this period", "21.00")]
    line = draft.lines.get(kind="minimum")
    assert line.docket and line.description == "Minimum hire of one delivery"
