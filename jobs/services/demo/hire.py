"""The demo's hire: the yard's terms, one customer's own, a few bills as they would have gone out month by month."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal

from django.utils import timezone

from inventory.models import Person
from jobs.errors import Refused
from jobs.models import Customer, Job, Payment, Seller, StandDown
from jobs.services.billing import draft_bill, issue_bill
from jobs.services.demo.story import at
from jobs.services.hire_notes import take_payment, write_down
from jobs.services.hire_terms import from_catalogue, record_terms
from jobs.services.quoting import quote

TERMS = {
    "days_charged": "out",
    "minimum": {"days": 7},
    "steps": [{"after_days": 60, "share": "0.9"}],
    "delivery": {"out": "240.00", "back": "210.00"},
    "cleaning": [{"kind": "edge form", "amount": "3.50"}],
    "damage": {
        "grades": [{"grade": "watch", "amount": "18.00"}, {"grade": "unfit", "share": "0.5"}],
        "within_days": 14,
    },
    "loss": {"share": "0.9", "until_settled": "0"},
    "sales": [{"type": "M12x50-IN", "amount": "1.40"}],
    "tax": [{"rate": "20", "category": "S"}],
}


def make_terms(customers: dict[str, Customer], by: Person, when: datetime) -> None:
    """The yard's from its catalogue; one customer pays by the pour instead, and less for long hire."""
    yard = from_catalogue() | TERMS
    record_terms(name="Yard terms", document=yard, by=by, now=when)
    own = yard | {"discounts": [{"per_cent": "7.5"}], "week": "six_day"}
    record_terms(
        name="Terms of Paper Barns", document=own, by=by, customer=customers["C-05"], agreed_by="Nobody", now=when
    )
    Seller.objects.update_or_create(
        pk=1,
        defaults={
            "name": "Example Form Hire",
            "street": "1 Nowhere Road",
            "city": "Example Town",
            "postcode": "00000",
            "country_code": "IE",
            "tax_id": "IE0000000XX",
            "email": "hire@example.test",
            "account_name": "Example Form Hire",
            "account_number": "IE00 TEST 0000 0000 0000 00",
            "payment_days": 21,
        },
    )
    for number, customer in enumerate(customers.values(), start=1):
        customer.street, customer.city = f"{number} Example Street", "Example Town"
        customer.postcode, customer.country_code = f"0000{number}", "IE"
        customer.save()


def bill_the_past(today: date, by: Person) -> None:
    """Month by month what was due then; the first is paid, the last stays with the desk as a draft."""
    jobs = list(Job.objects.select_related("customer").order_by("code"))
    _stand_down(jobs, today, by)
    months = [today.replace(day=1)]
    while len(months) < 3:
        months.insert(0, (months[0] - timedelta(days=1)).replace(day=1))
    for until in months:
        when = at(until, 9)
        for job in jobs:
            _bill(job, until, by, when)
    for job in jobs[:4]:
        try:
            draft_bill(job=job, until=today, by=by)
        except Refused:
            continue


def _bill(job: Job, until: date, by: Person, when: datetime) -> None:
    try:
        bill = issue_bill(bill=draft_bill(job=job, until=until, by=by, now=when), by=by, now=when)
    except Refused:
        return
    if bill.gross > 0 and bill.due_on and bill.due_on < timezone.localdate() and job.code != "J-102":
        payment = Payment(bill=bill, received_on=bill.due_on, amount=Decimal(bill.gross), reference="transfer")
        take_payment(payment, customer=job.customer, currency=bill.currency, by=by)


def _stand_down(jobs: list[Job], today: date, by: Person) -> None:
    job = next(one for one in jobs if one.code == "J-104")
    first = job.starts_on + timedelta(days=9)
    note = StandDown(job=job, first=first, until=first + timedelta(days=3), share="0.5")
    note.reason, note.agreed_by = "storm", "the site's foreman, by telephone"
    write_down(note, by=by, now=at(first, 16))


def quote_the_running(by: Person) -> None:
    """What the running jobs would have cost as planned, to set beside what was billed."""
    for job in Job.objects.under_way().order_by("code"):
        try:
            quote(job=job, by=by)
        except Refused:
            continue
