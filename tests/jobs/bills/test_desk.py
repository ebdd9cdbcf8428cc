"""The hire desk's pages and what they stand on: drafts in one press, a line to its scans, accounts, quotations."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.lifecycle.kinds import Kind
from inventory.models import GearType, HiredIn
from jobs.errors import Refused
from jobs.forms.terms import TermsForm
from jobs.models import Bill, Delivery, HireCharge, HireTerms, LoadLine, OffHire, Payment, Quotation, Seller, Waiver
from jobs.selectors.hire_desk import accounts_of, jobs_to_bill
from jobs.selectors.hire_order import bills_against_yard, overdue
from jobs.selectors.hired_in import hired_in_on
from jobs.services.bill_runs import ask_run, do_run
from jobs.services.billing import credit_bill
from jobs.services.hire_notes import confirm_off_hire, take_payment, withdraw, write_down
from jobs.services.quoting import accept_quotation, quote
from tests.jobs.bills.build import A_DAY, at, day, rows


@pytest.fixture
def hired(desk):
    desk.terms(A_DAY)
    desk.out(desk.pieces[:2], at(3, 2))
    return desk


def test_a_run_drafts_every_job_that_owes_something(hired):
    run = ask_run(until=day(4, 1), by=None)
    do_run(run=run)
    assert (run.state, run.drafted, run.left_out) == ("answered", 1, [])
    assert jobs_to_bill()[0].draft.net == 60


def test_open_reviews_trucks_under_way_and_missing_terms_hold_a_job_up(hired):
    assert not jobs_to_bill()[0].blocked
    hired.tell(Kind.FOUND, hired.pieces[0], at(3, 3), place=hired.job.site_id)
    state = jobs_to_bill()[0]
    assert state.reviews == 1 and state.blocked
    HireTerms.objects.all().delete()
    assert jobs_to_bill()[0].no_terms


def test_a_line_opens_to_its_stays_and_a_stay_to_its_scans(hired, client_as):
    bill = hired.bill(day(4, 1), at(4, 1))
    desk = client_as("hire desk")
    page = desk.get(reverse("bill", args=[bill.pk])).content.decode()
    first = reverse("bill-line", args=[bill.pk, 1])
    assert first in page
    second = reverse("bill-stay", args=[bill.pk, 1, 0])
    assert second in desk.get(first).content.decode()
    scans = desk.get(second).content.decode()
    assert any(piece.label in scans for piece in hired.pieces[:2]) and "sent" in scans and "(whole docket)" in scans
    assert "hire starts" in scans and "it runs on" in scans


def test_a_charge_opens_to_the_scan_or_the_note_that_made_it(desk, client_as):
    # Damage found eight days after the return, a truck, and a charge by hand: each line says where it comes from.
    desk.terms(A_DAY | {"damage": {"grades": [{"grade": "watch", "amount": "12.00"}]}, "delivery": {"out": "30.00"}})
    desk.out(desk.pieces[:1], at(3, 2))
    desk.back(desk.pieces[0], at(3, 12))
    desk.tell(Kind.FOUND_DAMAGED, desk.pieces[0], at(3, 20), data={"grade": "watch"})
    note = HireCharge(job=desk.job, kind="cleaning", description="Mud", on=day(3, 3), unit_amount=5)
    write_down(note, by=desk.yard.hand, now=at(3, 3))
    bill, client = desk.bill(day(4, 1), at(4, 1)), client_as("hire desk")
    wanted = {"damage": "found damaged", "delivery": "sent (whole docket)", "cleaning": "Mud (2026-03-03), entered"}
    for kind, words in wanted.items():
        row = bill.lines.get(kind=kind)
        said = client.get(reverse("bill-line", args=[bill.pk, row.position])).content.decode()
        assert words in said, kind


def test_an_off_hire_ends_hire_only_once_it_is_confirmed(desk):
    # Two of them out 1 March at 1.00; off hire from the 11th: 10 days each. Asked for alone, it changes nothing.
    desk.terms(A_DAY | {"ends": "off_hire"})
    desk.out(desk.pieces[:2], at(3, 1))
    asked = write_down(OffHire(job=desk.job, on=day(3, 11), asked_by="Ann"), by=None, now=at(3, 10))
    assert asked.number == "OH-00001"
    assert desk.draft(day(4, 1), at(4, 1)).net == 62
    confirm_off_hire(asked, by=None, now=at(4, 2))
    assert desk.draft(day(4, 1), at(4, 3)).net == 20
    withdraw(asked, by=None, now=at(4, 4))
    assert desk.draft(day(4, 1), at(4, 5)).net == 62


def test_a_charge_that_is_waived_is_not_billed(desk):
    desk.terms(A_DAY | {"damage": {"grades": [{"grade": "watch", "amount": "12.00"}]}})
    desk.out(desk.pieces[:1], at(3, 2))
    desk.back(desk.pieces[0], at(3, 12))
    desk.tell(Kind.FOUND_DAMAGED, desk.pieces[0], at(3, 13), data={"grade": "watch"})
    bill = desk.draft(day(4, 1), at(4, 1))
    (damage,) = [line for line in bill.lines.all() if line.kind == "damage"]
    write_down(
        Waiver(job=desk.job, charge=damage.key.removeprefix("charge:"), reason="fair wear"), by=None, now=at(4, 2)
    )
    assert rows(desk.draft(day(4, 1), at(4, 3))) == [("hire", "this period", "10.00")]


def test_an_account_says_what_is_still_to_pay_and_what_is_overdue(hired):
    # Billed 66.00 gross on 1 April, due on the 15th; 26.00 came in without a bill's number: 40.00 is overdue on the
    # 16th. A credit note for it leaves nothing to pay and the 26.00 in hand.
    bill = hired.bill(day(4, 1), at(4, 1))
    customer = hired.job.customer
    paid = Payment(received_on=day(4, 10), amount=Decimal("26.00"))
    take_payment(paid, customer=customer, currency="EUR", by=None, now=at(4, 10))
    (account,) = accounts_of(customer.pk, day(4, 16))
    assert (account.balance, account.overdue) == (Decimal("40.00"), Decimal("40.00"))
    assert accounts_of(customer.pk, day(4, 15))[0].overdue == 0
    credit_bill(bill=bill, reason="Wrong.", by=None, now=at(4, 17))
    (account,) = accounts_of(customer.pk, day(5, 16))
    assert (account.balance, account.overdue, account.open) == (Decimal("-26.00"), 0, [])


def test_the_three_lists_are_empty_when_the_yard_is_in_order_and_not_otherwise(hired):
    hired.bill(day(4, 1), at(4, 1))
    assert bills_against_yard(day(4, 2)) == ([], []) and overdue(day(4, 2)) == []
    hired.back(hired.pieces[0], at(4, 2))
    hired.tell(Kind.RECEIVED, hired.pieces[1], at(4, 2), place=hired.yard.other.pk)
    returned, astray = bills_against_yard(day(4, 3))
    # What came back in April waits for April's bill; once April is over without one, it is out of order.
    assert returned == [] and [off.piece.pk for off in astray] == [hired.pieces[1].pk]
    assert [off.piece.pk for off in bills_against_yard(day(5, 1))[0]] == [hired.pieces[0].pk]
    hired.back(hired.pieces[1], at(4, 3))
    hired.bill(day(5, 1), at(5, 1))
    assert bills_against_yard(day(5, 2)) == ([], [])
    hired.job.ends_on = day(4, 10)
    hired.job.save()
    hired.tell(Kind.RECEIVED, hired.pieces[2], at(4, 12), place=hired.job.site_id)
    assert [off.piece.pk for off in overdue(day(4, 13))] == [hired.pieces[2].pk]


def test_the_three_lists_are_saved_as_one_table(hired, client_as):
    hired.bill(day(4, 1), at(4, 1))
    hired.back(hired.pieces[0], at(3, 30), known=at(4, 2))
    saved = client_as("hire desk").get(reverse("stays"), {"save": "csv"})
    lines = b"".join(saved.streaming_content).decode().splitlines()
    assert len(lines) == 2 and lines[1].startswith(f"not billed off,{hired.pieces[0].label},")


def test_what_came_back_and_went_out_again_is_not_billed_off_rather_than_astray(hired):
    hired.bill(day(4, 1), at(4, 1))
    hired.back(hired.pieces[0], at(4, 2))
    hired.tell(Kind.RECEIVED, hired.pieces[0], at(4, 6), place=hired.yard.other.pk)
    assert bills_against_yard(day(4, 7)) == ([], [])
    returned, astray = bills_against_yard(day(5, 1))
    assert ([(off.piece.pk, off.since) for off in returned], astray) == ([(hired.pieces[0].pk, at(4, 2))], [])


def test_hired_in_gear_stands_on_the_bill_with_what_it_earns_and_costs(hired, client_as):
    # Two pieces 30 days at 1.00; one is hired in at 0.40 a day: it earns 30.00, costs 12.00 and leaves 18.00.
    owned = HiredIn(owner="Another yard", their_number="7", due_back=day(9, 1), cost_day=Decimal("0.40"))
    owned.piece = hired.pieces[0]
    owned.save()
    bill = hired.bill(day(4, 1), at(4, 1))
    (row,) = hired_in_on(bill, list(bill.lines.all()))
    assert (row.pieces, row.earned, row.cost, row.left) == (1, 30, 12, 18)
    page = client_as("hire desk").get(reverse("bill", args=[bill.pk])).content.decode()
    assert "Hired-in gear" in page and "18.00 EUR" in page


def test_terms_say_every_rule_also_where_nothing_was_agreed(hired, client_as):
    page = client_as("hire desk").get(reverse("terms-one", args=[HireTerms.objects.get().pk]))
    said = dict(page.context["rows"])
    assert said["Notice after off-hire (days)"] == "0" and said["Long hire"] == "none"
    left_out = {"name", "holds_from", "agreed_by", "public_holidays"}
    assert len(said) == len(set(TermsForm.base_fields) - left_out)


def test_what_was_back_before_a_bills_end_is_out_of_order_at_once(hired):
    hired.bill(day(4, 1), at(4, 1))
    hired.back(hired.pieces[0], at(3, 30), known=at(4, 2))
    assert [off.piece.pk for off in bills_against_yard(day(4, 2))[0]] == [hired.pieces[0].pk]


def test_a_quotation_becomes_the_terms_and_is_set_against_what_was_billed(desk, client_as):
    # 10 forms from 2 March until 12 March at 1.00 a day: 100.00, two trucks at 30.00: 160.00, tax 10 per cent.
    yard = desk.terms(A_DAY | {"delivery": {"out": "30.00", "back": "30.00"}})
    desk.job.ends_on = day(3, 12)
    desk.job.save()
    delivery = Delivery.objects.create(job=desk.job, load_on=day(3, 2))
    LoadLine.objects.create(delivery=delivery, type=desk.yard.form, quantity=10)
    asked = quote(job=desk.job, by=None, today=day(2, 20), now=at(2, 20))
    assert (asked.net, asked.gross) == (Decimal("160.00"), Decimal("176.00"))
    kept = accept_quotation(quotation=asked, accepted_by="Ann", by=None, now=at(2, 21))
    assert (kept.job, kept.document, kept.agreed_by) == (desk.job, yard.document, "Ann")
    with pytest.raises(Refused) as refused:
        accept_quotation(quotation=asked, accepted_by="Ann", by=None, now=at(2, 22))
    assert refused.value.code == "accepted-already"
    desk.out(desk.pieces[:1], at(3, 2))
    desk.bill(day(4, 1), at(4, 1))
    page = client_as("manager").get(reverse("quotation", args=[asked.pk])).content.decode()
    assert "160.00 EUR" in page and "30.00 EUR" in page and "-70.00 EUR" in page


def test_terms_are_entered_as_text_and_come_out_as_they_were(desk, client_as):
    manager = client_as("manager")
    page = manager.get(reverse("terms-new"))
    form = page.context["form"]
    said = {field.name: field.value() for field in form}
    said |= {name: form[name].field.prepare_value(form[name].value()) for name in said}
    said = {name: value for name, value in said.items() if value is not None and value is not False}
    said |= {"name": "Yard terms", "rates": f"all: day 1.00\n{desk.yard.form.code}: week 2.10, whole", "tax": "10 S"}
    assert manager.post(reverse("terms-new"), said).status_code == 302
    kept = HireTerms.objects.get()
    assert kept.document["rates"][1] == {"type": desk.yard.form.code, "week": "2.10", "odd_days": "whole"}
    desk.out(desk.pieces[:1], at(3, 2))
    wrong = manager.post(reverse("terms-correct", args=[kept.pk]), said | {"rates": "all day 1", "steps": "30: 2/0"})
    assert b"Line 1, &#x27;all day 1&#x27;" in wrong.content and not HireTerms.objects.filter(replaces=kept).exists()


def test_the_desk_presses_draft_issue_and_give_back(hired, client_as):
    desk = client_as("hire desk")
    until = (hired.job.starts_on + timedelta(days=31)).isoformat()
    drafted = desk.post(reverse("bills-draft"), {"until": until, "job": hired.job.pk})
    bill = Bill.objects.get()
    assert drafted.url == reverse("bill", args=[bill.pk])
    desk.post(reverse("bill-issue", args=[bill.pk]))
    bill.refresh_from_db()
    assert bill.number == "B-00001"
    desk.post(reverse("bill-credit", args=[bill.pk]), {"reason": "Wrong customer."})
    assert Bill.objects.get(credits=bill).number == "C-00001"


def test_a_desk_that_lacks_our_details_is_told_who_fills_them_in(hired, client_as):
    Seller.objects.update(country_code="")
    draft = hired.draft(day(4, 1), at(4, 1))
    for role, page in (("hire desk", "bills"), ("manager", "seller")):
        assert client_as(role).post(reverse("bill-issue", args=[draft.pk])).url == reverse(page)


def test_an_off_hire_date_that_ends_nothing_is_said_to(hired, client_as):
    write_down(OffHire(job=hired.job, on=day(3, 11), asked_by="Ann"), by=None, now=at(3, 10))
    page = client_as("hire desk").get(reverse("job-hire", args=[hired.job.pk])).content.decode()
    assert "an off-hire date does not end hire" in page


def test_a_job_is_quoted_from_the_load_list_of_its_cover_check(db):
    # One panel of 6.0 by 3.0 m: four forms, set Thu 4 March and loaded the day before; cast on Fri 5, due back on the
    # 12th. 3 to 11 March are 9 days: 4 x 9 x 1.00 = 36.00; cast once, 4 uses at 0.50 = 2.00; two trucks 60.00. The
    # bolts that go along are used up: sold where the terms have a price, named where they have none.
    from tests.jobs import build
    from tests.jobs.test_cover_checks import TODAY, answered, stocked

    stocked(2, 2)
    job = build.job_with(build.row("A1"), ends_on=day(3, 12).replace(year=2027), transport_days=1)
    terms = {"rates": [{"day": "1.00", "use": "0.50"}], "delivery": {"out": "30.00", "back": "30.00"}}
    HireTerms.objects.create(name="terms", document=terms, recorded_at=at(1, 1))
    with pytest.raises(Refused) as refused:
        quote(job=job, by=None, today=TODAY)
    assert refused.value.code == "no-loads"
    answered(job)
    asked = quote(job=job, by=None, today=TODAY)
    assert asked.source == "the cover check's load list"
    nets = [(one["kind"], one["net"]) for one in asked.lines]
    assert sorted(nets) == 2 * [("delivery", "30.00")] + 2 * [("hire", "18.00")] + 2 * [("use", "1.00")]
    assert asked.net == Decimal("98.00")


def test_a_job_is_quoted_under_the_terms_that_the_desk_chooses(desk, client_as):
    # Ten forms for ten days: 100.00 at the yard's 1.00 a day, 200.00 at 2.00.
    desk.job.ends_on = day(3, 12)
    desk.job.save()
    LoadLine.objects.create(
        delivery=Delivery.objects.create(job=desk.job, load_on=day(3, 2)), type=desk.yard.form, quantity=10
    )
    desk.terms(A_DAY)
    dear = desk.terms({"rates": [{"day": "2.00"}]}, customer=desk.job.customer)
    quoted = client_as("hire desk").post(reverse("job-quote", args=[desk.job.pk]), {"terms": dear.pk})
    asked = Quotation.objects.get()
    assert (quoted.url, asked.net) == (reverse("quotation", args=[asked.pk]), 200)
    assert b"Under other terms" in client_as("hire desk").get(quoted.url).content


def test_what_is_used_up_is_quoted_as_sold(desk):
    # 30 bolts at 0.80 go out with ten forms: 24.00 beside the hire of 100.00; without a price they stand at nothing.
    desk.job.ends_on = day(3, 12)
    desk.job.save()
    GearType.objects.filter(pk=desk.yard.bolt.pk).update(used_up=True)
    delivery = Delivery.objects.create(job=desk.job, load_on=day(3, 2))
    LoadLine.objects.create(delivery=delivery, type=desk.yard.form, quantity=10)
    LoadLine.objects.create(delivery=delivery, type=desk.yard.bolt, quantity=30)
    plain = desk.terms(A_DAY)
    asked = quote(job=desk.job, by=None, today=day(2, 20), now=at(2, 20))
    assert asked.net == 100 and "no price" in asked.lines[-1]["why"]
    desk.terms(A_DAY | {"sales": [{"type": "M12", "amount": "0.80"}]}, replaces=plain)
    assert quote(job=desk.job, by=None, today=day(2, 20), now=at(2, 20)).net == 124


def test_goods_by_count_are_quoted_as_they_are_billed(desk):
    # A rate for all gear is not for bolts tracked by count: on hire only at a rate of their own.
    desk.job.ends_on = day(3, 12)
    desk.job.save()
    delivery = Delivery.objects.create(job=desk.job, load_on=day(3, 2))
    LoadLine.objects.create(delivery=delivery, type=desk.yard.form, quantity=10)
    LoadLine.objects.create(delivery=delivery, type=desk.yard.bolt, quantity=30)
    desk.terms(A_DAY)
    assert quote(job=desk.job, by=None, today=day(2, 20), now=at(2, 20)).net == 100
