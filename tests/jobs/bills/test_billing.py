"""From scans to a bill: drafted, issued, adjusted by what comes late, and given back."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from inventory.lifecycle.kinds import Kind
from jobs.errors import Refused
from jobs.models import Bill, BillLine, BillTax, Seller, StandDown
from jobs.services.billing import credit_bill, discard_draft, draft_bill, issue_bill
from tests.jobs.bills.build import A_DAY, at, day, rows


def test_a_month_of_hire_is_billed_from_the_scans(desk):
    # Two pieces out 2 March; one back on the 12th: 10 days at 1.00 = 10.00. The other is out all of March: the day
    # out counts, so 2 to 31 March are 30 days = 30.00. Together 40.00, tax 10 per cent 4.00, 44.00 in all.
    desk.terms(A_DAY)
    docket = desk.out(desk.pieces[:2], at(3, 2))
    desk.back(desk.pieces[0], at(3, 12))
    bill = desk.draft(day(4, 1), at(4, 1))
    (line,) = bill.lines.all()
    assert (line.docket, line.type_code, line.quantity) == (docket.number, "E150-3000", 2)
    assert (bill.net, bill.tax, bill.gross) == (Decimal("40.00"), Decimal("4.00"), Decimal("44.00"))
    assert (bill.period_from, bill.state, bill.number) == (day(3, 2), "draft", None)
    assert "1 out 2 March 2026, returned 12 March 2026: 10 days charged" in line.why


def test_issuing_numbers_it_and_keeps_both_parties_as_they_are(desk):
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    bill = desk.bill(day(4, 1), at(4, 1))
    assert (bill.number, bill.issued_on, bill.due_on) == ("B-00001", day(4, 1), day(4, 15))
    Seller.objects.update(name="Another name")
    bill.refresh_from_db()
    assert (bill.seller["name"], bill.buyer["name"], bill.state) == ("A yard", "A customer", "issued")


def test_a_late_return_is_given_back_on_the_next_bill_and_named(desk):
    # Out 2 March, billed to the end of March: 30.00. On 8 April it turns out that it was back on 20 March: 18 days.
    # April's own hire is nothing; 18.00 - 30.00 = -12.00 is the adjustment, so April is a credit note.
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    march = desk.bill(day(4, 1), at(4, 1))
    event = desk.back(desk.pieces[0], at(3, 20), at(4, 8))
    april = desk.bill(day(5, 1), at(5, 1))
    assert (march.net, april.net, april.kind, april.number) == (30, -12, "credit note", "C-00001")
    assert rows(april) == [("hire", "adjustment", "-12.00")]
    (cause,) = april.lines.get().causes
    assert cause.startswith(f"{desk.pieces[0].label} was back on 20 March 2026 08:00 (typed 20 March 2026 08:00")
    assert f"recorded 8 April 2026 08:00, event {str(event)[:8]}" in cause


def test_what_the_period_adds_and_what_it_adjusts_are_rows_of_their_own(desk):
    # A second piece went out on 12 March (20 days to 31 March), known on 3 April only: 20.00 adjusts, 30 days are new.
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    desk.bill(day(4, 1), at(4, 1))
    desk.out(desk.pieces[1:2], at(3, 12), known=at(4, 3))
    april = desk.bill(day(5, 1), at(5, 1))
    assert rows(april) == [
        ("hire", "this period", "30.00"),
        ("hire", "this period", "30.00"),
        ("hire", "adjustment", "20.00"),
    ]


def test_a_reversed_return_is_charged_again(desk):
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    event = desk.back(desk.pieces[0], at(3, 12))
    assert desk.bill(day(4, 1), at(4, 1)).net == 10
    desk.tell(Kind.REVERSED, desk.pieces[0], at(4, 2), target=event)
    april = desk.bill(day(5, 1), at(5, 1))
    assert rows(april) == [("hire", "this period", "30.00"), ("hire", "adjustment", "20.00")]


def test_new_terms_never_touch_the_past_and_a_correction_does(desk):
    # 1.00 a day to the end of March, 2.00 from 1 April: 30.00 and then 60.00. The March rate was wrong, 1.50 was
    # agreed: the correction adds 15.00 to March on the next bill, and says so.
    wrong = desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    march = desk.bill(day(4, 1), at(4, 1))
    desk.terms(A_DAY | {"rates": [{"day": "2.00"}]}, holds_from=day(4, 1), recorded_at=at(4, 2))
    april = desk.bill(day(5, 1), at(5, 1))
    assert (march.net, april.net) == (30, 60)
    desk.terms(A_DAY | {"rates": [{"day": "1.50"}]}, replaces=wrong, recorded_at=at(5, 3))
    may = desk.bill(day(6, 1), at(6, 1))
    assert [row.net for row in may.lines.filter(part="adjustment")] == [Decimal("15.00")]
    assert (
        'Terms "terms" of the yard, which correct "terms" of the yard hold.' in may.lines.get(part="adjustment").causes
    )


@pytest.mark.parametrize("whose", ["yard", "customer", "job"])
def test_new_terms_dated_back_leave_what_was_billed_alone(desk, whose):
    # March is billed at 1.00. On 2 April 2.00 is recorded as from 10 March: March stays 30.00, April is 60.00. Once
    # March's bill is given back, its days are open: 8 at 1.00 and 22 at 2.00 are 52.00.
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    march = desk.bill(day(4, 1), at(4, 1))
    scope = {"customer": {"customer": desk.job.customer}, "job": {"job": desk.job}}.get(whose, {})
    new = desk.terms(A_DAY | {"rates": [{"day": "2.00"}]}, holds_from=day(3, 10), recorded_at=at(4, 2), **scope)
    april = desk.draft(day(5, 1), at(5, 1))
    assert rows(april) == [("hire", "this period", "60.00")]
    desk.terms(A_DAY | {"rates": [{"day": "3.00"}]}, holds_from=day(3, 10), replaces=new, recorded_at=at(5, 1), **scope)
    assert rows(desk.draft(day(5, 1), at(5, 2))) == [("hire", "this period", "90.00")]
    credit_bill(bill=march, reason="Wrong.", by=None, now=at(5, 3))
    assert desk.draft(day(4, 1), at(5, 4)).net == 8 + 22 * 3


def test_a_correction_to_an_earlier_day_puts_the_past_right(desk):
    # Agreed from 10 March, written down as from 1 April: the correction adds 22 days at 1.00 more.
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    wrong = desk.terms(A_DAY | {"rates": [{"day": "2.00"}]}, holds_from=day(4, 1))
    desk.bill(day(4, 1), at(4, 1))
    desk.terms(A_DAY | {"rates": [{"day": "2.00"}]}, holds_from=day(3, 10), replaces=wrong, recorded_at=at(4, 2))
    april = desk.draft(day(5, 1), at(5, 1))
    assert (april.net, sum(one.net for one in april.lines.all() if one.part == "adjustment")) == (60 + 22, 22)


def test_the_narrowest_terms_hold_from_their_day(desk):
    desk.terms(A_DAY)
    desk.terms({"rates": [{"day": "3.00"}]}, customer=desk.job.customer, holds_from=day(3, 11))
    desk.terms({"rates": [{"day": "5.00"}]}, job=desk.job, holds_from=day(3, 21))
    desk.out(desk.pieces[:1], at(3, 1))
    desk.back(desk.pieces[0], at(3, 31))
    # 1 to 10 March at 1.00, 11 to 20 at 3.00, 21 to 30 at 5.00.
    assert desk.draft(day(4, 1), at(4, 1)).net == 10 + 30 + 50


def test_a_stand_down_counts_at_its_share_and_says_who_agreed(desk):
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    StandDown.objects.create(
        job=desk.job,
        first=day(3, 10),
        until=day(3, 14),
        share="0.5",
        reason="rain",
        agreed_by="A. Foreman",
        recorded_at=at(3, 14),
    )
    bill = desk.draft(day(4, 1), at(4, 1))  # 26 whole days and 4 at half
    assert bill.net == 28
    assert "(rain, agreed by A. Foreman)" in bill.lines.get().why


def test_damage_found_in_time_belongs_to_the_last_job(desk):
    # Found on the 20th, eight days after the return: within the fourteen. Found 20 days after: the owner's own.
    desk.terms(A_DAY | {"damage": {"grades": [{"grade": "watch", "amount": "12.00"}]}})
    desk.out(desk.pieces[:2], at(3, 2))
    for piece in desk.pieces[:2]:
        desk.back(piece, at(3, 12))
    desk.tell(Kind.FOUND_DAMAGED, desk.pieces[0], at(3, 20), data={"grade": "watch", "reason": "bent"})
    desk.tell(Kind.FOUND_DAMAGED, desk.pieces[1], at(4, 1), data={"grade": "watch", "reason": "bent"})
    bill = desk.draft(day(5, 1), at(5, 1))
    assert rows(bill) == [("hire", "this period", "20.00"), ("damage", "this period", "12.00")]
    assert desk.pieces[0].label in bill.lines.get(kind="damage").description


def test_lost_then_found_gives_the_loss_back(desk):
    desk.terms(A_DAY | {"replacement": [{"amount": "120.00"}]})
    desk.out(desk.pieces[:1], at(3, 2))
    desk.tell(Kind.LOST, desk.pieces[0], at(3, 12))
    march = desk.bill(day(4, 1), at(4, 1))
    assert rows(march) == [("hire", "this period", "10.00"), ("loss", "this period", "120.00")]
    desk.tell(Kind.FOUND, desk.pieces[0], at(4, 6), place=desk.job.site_id)
    desk.back(desk.pieces[0], at(4, 6, 9))
    april = desk.bill(day(5, 1), at(5, 1))
    # On hire from 2 March to 5 April: 35 days; 10 were billed. 20 belong to March, 5 to April; the loss goes back.
    assert rows(april) == [
        ("hire", "this period", "5.00"),
        ("hire", "adjustment", "20.00"),
        ("adjustment", "adjustment", "-120.00"),
    ]


def test_a_credit_note_mirrors_and_the_job_is_billed_anew(desk):
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    march = desk.bill(day(4, 1), at(4, 1))
    note = credit_bill(bill=march, reason="Sent to the wrong office.", by=None, now=at(4, 2))
    assert (note.number, note.gross, note.kind, march.state) == ("C-00001", -march.gross, "credit note", "credited")
    assert [(row.key, -row.net) for row in note.lines.all()] == [(row.key, row.net) for row in march.lines.all()]
    again = desk.bill(day(4, 1), at(4, 3))
    assert (again.number, again.period_from, again.net) == ("B-00002", day(3, 2), march.net)
    with pytest.raises(Refused) as refused:
        credit_bill(bill=march, reason="Twice.", by=None, now=at(4, 4))
    assert refused.value.code == "credited-already"


def test_only_the_last_bill_of_a_job_is_given_back_first(desk):
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    march = desk.bill(day(4, 1), at(4, 1))
    desk.bill(day(5, 1), at(5, 1))
    with pytest.raises(Refused) as refused:
        credit_bill(bill=march, reason="Wrong.", by=None, now=at(5, 2))
    assert refused.value.code == "not-last"


@pytest.mark.parametrize("table", [Bill, BillLine, BillTax])
@pytest.mark.parametrize("way", ["update", "delete", "save"])
def test_the_database_refuses_to_change_what_was_issued(desk, table, way):
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    desk.bill(day(4, 1), at(4, 1))
    field = {"Bill": "net", "BillLine": "net", "BillTax": "amount"}[table.__name__]
    row = table.objects.get()
    setattr(row, field, 1)
    acts = {
        "update": lambda: table.objects.update(**{field: 1}),
        "delete": lambda: table.objects.all()._raw_delete("default"),
        "save": row.save,
    }
    with pytest.raises(IntegrityError), transaction.atomic():
        acts[way]()
    row.refresh_from_db()
    assert getattr(row, field) != 1


def test_what_an_issued_bill_was_computed_from_stays_with_it(desk):
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    bill = desk.bill(day(4, 1), at(4, 1))
    (stay,) = bill.facts["stays"]
    assert stay["out"] == "2026-03-02T08:00:00+00:00" and bill.facts["terms"][0]["rates"] == [{"day": "1.00"}]


def test_a_draft_that_was_overtaken_is_not_issued(desk):
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    draft = desk.draft(day(4, 1), at(4, 1))
    desk.draft(day(4, 1), at(4, 1))
    with pytest.raises(Refused) as refused:
        issue_bill(bill=draft, by=None, now=at(4, 2))
    assert refused.value.code == "gone"


@pytest.mark.parametrize(
    ("spoil", "code"),
    [
        (lambda desk: desk.draft(day(3, 1), at(4, 1)), "nothing-to-bill"),
        (lambda desk: [desk.bill(day(4, 1), at(4, 1)), desk.draft(day(4, 1), at(4, 2))], "billed-already"),
        (lambda desk: [Seller.objects.update(country_code=""), desk.bill(day(4, 1), at(4, 1))], "no-seller"),
        (lambda desk: discard_draft(bill=desk.bill(day(4, 1), at(4, 1))), "issued-already"),
    ],
)
def test_what_cannot_be_done_is_refused_with_what_to_do(desk, spoil, code):
    desk.terms(A_DAY)
    desk.out(desk.pieces[:1], at(3, 2))
    with pytest.raises(Refused) as refused:
        spoil(desk)
    assert refused.value.code == code


def test_without_terms_nothing_is_billed(desk):
    desk.out(desk.pieces[:1], at(3, 2))
    with pytest.raises(Refused) as refused:
        draft_bill(job=desk.job, until=date(2026, 4, 1), by=None, now=at(4, 1))
    assert refused.value.code == "no-terms"


def test_damage_that_somebody_said_is_not_charged_is_not(desk):
    desk.terms(A_DAY | {"damage": {"grades": [{"grade": "watch", "amount": "12.00"}]}})
    desk.out(desk.pieces[:1], at(3, 2))
    desk.back(desk.pieces[0], at(3, 12))
    said = {"grade": "watch", "reason": "bent", "charge": False}
    desk.tell(Kind.FOUND_DAMAGED, desk.pieces[0], at(3, 13), data=said)
    assert rows(desk.draft(day(5, 1), at(5, 1))) == [("hire", "this period", "10.00")]


def test_damage_found_late_is_charged_where_somebody_said_so(desk):
    desk.terms(A_DAY | {"damage": {"grades": [{"grade": "watch", "amount": "12.00"}]}})
    desk.out(desk.pieces[:1], at(3, 2))
    desk.back(desk.pieces[0], at(3, 12))
    said = {"grade": "watch", "reason": "bent", "charge": True}
    desk.tell(Kind.FOUND_DAMAGED, desk.pieces[0], at(4, 20), data=said)
    bill = desk.draft(day(5, 1), at(5, 1))
    assert ("damage", "this period", "12.00") in rows(bill)


def test_a_loss_is_charged_at_the_value_said_when_it_was_written_off(desk):
    desk.terms(A_DAY | {"replacement": [{"amount": "120.00"}]})
    desk.out(desk.pieces[:2], at(3, 2))
    desk.tell(Kind.LOST, desk.pieces[0], at(3, 12), data={"value": "90.00", "charge": True})
    desk.tell(Kind.LOST, desk.pieces[1], at(3, 12), data={"charge": False})
    charged = [row for row in rows(desk.draft(day(4, 1), at(4, 1))) if row[0] == "loss" and row[2] != "0.00"]
    assert charged == [("loss", "this period", "90.00")]
