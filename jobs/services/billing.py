"""Bills from draft to issue, and back by credit note. Nothing issued is ever changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from inventory.models import GearType, Person, YardSettings
from jobs.currencies import minor_units
from jobs.errors import Refused
from jobs.hire.adjust import BilledBefore, Period, Statement, statement
from jobs.hire.codec import read, write_short
from jobs.hire.lines import Line
from jobs.hire.request import entry_of
from jobs.hire.stays import Facts
from jobs.models import Bill, BillLine, BillTax, Customer, Job, NumberSeries, Seller
from jobs.models.parties import PARTY_FIELDS
from jobs.selectors.hire_charges import LeftOut
from jobs.selectors.hire_desk import stands_open
from jobs.selectors.hire_facts import Known, facts_of
from jobs.selectors.hire_moves import World
from jobs.services.bill_words import Namer

CONTACT_FIELDS = ("name", "contact", "phone", "email")
BANK_FIELDS = ("account_name", "account_number", "bank_code", "payment_note")


@dataclass(frozen=True)
class Before:
    """What a job's earlier bills and credit notes come to for the next one."""

    last: Bill | None
    billed: tuple[BilledBefore, ...]
    then: Facts | None
    until: date | None


def billed_before(job: Job) -> Before:
    """Every line issued on a job, what its last bill was made from, and the day to which it is billed."""
    issued = Bill.objects.filter(job=job).issued()
    last = issued.order_by("-id").defer("facts").first()
    if last is None:
        return Before(None, (), None, None)
    lines = BillLine.objects.filter(bill__in=issued).order_by("pk").select_related("bill")
    billed = tuple(
        BilledBefore(
            line=one.key,
            net=in_currency(one.net, one.bill.currency),
            tax=one.tax_rate,
            tax_category=one.tax_category,  # type: ignore[arg-type]
            known_at=one.bill.known_at,
            bill=one.bill.number or "",
        )
        for one in lines.only(
            "key", "net", "tax_rate", "tax_category", "bill__known_at", "bill__number", "bill__currency"
        )
    )
    made_from = issued.filter(credits=None).order_by("-id").first()
    then: Facts | None = read(Facts, made_from.facts, "facts") if made_from else None
    until = Bill.objects.filter(job=job).standing().order_by("-period_until").values_list("period_until", flat=True)
    return Before(last, billed, then, until.first())


def draft_bill(
    *, job: Job, until: date, by: Person | None, now: datetime | None = None, world: World | None = None
) -> Bill:
    """The job's bill from where the last one ended up to `until` (first day not billed), as known now.

    A draft that is there already is thrown away. Raises Refused: "no-terms", "billed-already", "nothing-to-bill".
    """
    now = now or timezone.now()
    known = facts_of(job, now, world)
    before = billed_before(job)
    period = _period(known.facts, before, until)
    if not any(one.rates for one in known.facts.terms):
        raise Refused("no-terms", f"No hire terms hold for {job}. Enter the yard's terms, or the customer's, first.")
    currency = _currency(before)
    priced = statement(known.facts, period, currency, None, before.billed, before.then)
    if not priced.lines:
        raise Refused("nothing-to-bill", f"{job} has nothing to bill up to {until:%d %b %Y}.")
    return _keep(job, period, known, priced, before, by, now)


def _period(facts: Facts, before: Before, until: date) -> Period:
    start = before.until
    if start is None:
        days = [one.out.date() if isinstance(one.out, datetime) else one.out for one in facts.stays]
        days += [one.date.date() if isinstance(one.date, datetime) else one.date for one in facts.charges if one.date]
        start = min([*days, until - timedelta(days=1)])
    if until <= start:
        so_far = "is billed up to" if before.until is not None else "has its first gear out on"
        raise Refused("billed-already", f"This job {so_far} {start:%d %b %Y}. Choose a later day to bill to.")
    return Period(start, until)


def _currency(before: Before) -> str:
    """The yard's, unless the job was billed in another: what was billed before cannot be taken off in a new one."""
    ours = YardSettings.current().currency
    if before.last is not None and before.last.currency != ours:
        was = before.last.currency
        raise Refused(
            "currency-changed",
            f"This job was billed in {was} so far, and the yard now bills in {ours}. Set the yard's currency back to "
            f"{was} to bill it to its end, or give its bills back first and start a new job.",
        )
    return ours


def _one_at_a_time(job: int) -> None:
    """Drafting, issuing and giving back follow one another on a job: each must see what the other did."""
    Job.objects.select_for_update(of=("self",)).get(pk=job)


@transaction.atomic
def _keep(
    job: Job, period: Period, known: Known, priced: Statement, before: Before, by: Person | None, now: datetime
) -> Bill:
    _one_at_a_time(job.pk)
    Bill.objects.filter(job=job).drafts().delete()
    bill = Bill.objects.create(
        kind=Bill.Kind.CREDIT_NOTE if priced.gross < 0 else Bill.Kind.BILL,
        customer=job.customer,
        job=job,
        period_from=period.from_,
        period_until=period.until,
        currency=priced.currency,
        known_at=now,
        drafted_at=now,
        drafted_by=by,
        after=before.last,
        net=priced.net,
        tax=priced.gross - priced.net,
        gross=priced.gross,
        facts=write_short(known.facts),
        warnings=[*priced.warnings, *known.notes],
        left_out=[_left_out(one) for one in known.left_out],
    )
    names = Namer(known, before.then)
    rows = [row for line in priced.lines for row in _rows(bill, line, names)]
    for position, row in enumerate(rows, start=1):
        row.position = position
    BillLine.objects.bulk_create(rows, batch_size=500)
    BillTax.objects.bulk_create(
        BillTax(bill=bill, rate=one.rate, category=one.category, base=one.base, amount=one.amount) for one in priced.tax
    )
    return bill


def _left_out(one: LeftOut) -> dict[str, Any]:
    return asdict(one) | {"price": None if one.price is None else format(one.price, "f")}


def _rows(bill: Bill, line: Line, names: Namer) -> Iterable[BillLine]:
    """A charge as one row, or as two where it both adds and adjusts."""
    shares = {BillLine.Part.THIS_PERIOD: line.this_period, BillLine.Part.ADJUSTMENT: line.adjustment}
    parts = [part for part, net in shares.items() if net] or [BillLine.Part.THIS_PERIOD]
    for part in parts:
        adjusts = part == BillLine.Part.ADJUSTMENT
        yield BillLine(
            bill=bill,
            position=0,
            key=line.line,
            part=part,
            kind=line.kind,
            type_code=line.type,
            description=names.description(line, adjusts),
            docket=names.docket(line),
            quantity=line.quantity,
            days=None if adjusts else line.days,
            uses=None if adjusts else line.uses,
            rate=line.rate,
            per=line.per,
            charged=line.charged,
            billed_before=line.billed_before,
            net=shares[part],
            tax_rate=line.tax.rate,
            tax_category=line.tax.category,
            why=names.plain(line.why),
            causes=[names.plain(one) for one in line.causes] if adjusts else [],
            stays=list(line.stays),
            parts=[entry_of(one) for one in line.due.entries] if line.due and not adjusts else [],
            cost=None if adjusts else line.cost,
        )


@transaction.atomic
def issue_bill(*, bill: Bill, by: Person | None, despite: str = "", now: datetime | None = None) -> Bill:
    """Number it and freeze it, exactly as it was drafted.

    While something stands open that may change it (see `jobs.selectors.hire_desk.stands_open`), only a named person
    issues it, saying `despite` what reason: both stay on the bill. The number's row is the lock: two desks that issue
    at once take one after the other, and whoever issues a draft that was overtaken meanwhile is refused.
    Raises Refused: "no-seller", "issued-already", "gone", "overtaken", "stands-open", "no-name".
    """
    now = now or timezone.now()
    seller = Seller.current()
    if not (seller.name or YardSettings.current().business_name) or not seller.country_code:
        raise Refused(
            "no-seller",
            "Before a bill goes out a manager fills in our details, with the country at least: see Set up.",
        )
    _one_at_a_time(bill.job_id)
    series = seller.credit_prefix if bill.is_credit_note else seller.bill_prefix
    sequence = _next_number(series)
    # what it was computed from stays as it is: a large bill's is neither read nor written again
    rows = Bill.objects.select_for_update(of=("self",)).select_related("customer", "job").defer("facts")
    found = rows.filter(pk=bill.pk).first()
    if found is None:
        raise Refused("gone", "This draft is no longer there: somebody drafted the job anew. Look at the new one.")
    if found.issued_at is not None:
        raise Refused("issued-already", f"This was issued already, as {found.number}.")
    last = Bill.objects.filter(job=found.job_id).issued().order_by("-id").values_list("pk", flat=True).first()
    if last != found.after_id:
        raise Refused("overtaken", "The job was billed or credited since this draft. Draft it anew, then issue it.")
    _may_go_out(found, despite.strip(), by)
    return _freeze(found, seller, series, sequence, by, now)


def _may_go_out(bill: Bill, despite: str, by: Person | None) -> None:
    bill.stood_open = stands_open(bill)
    if not bill.stood_open:
        return
    if not despite:
        raise Refused(
            "stands-open",
            f"Something may still change this bill: {'; '.join(bill.stood_open)}. Settle it and draft the job anew, or "
            "say why it goes out all the same.",
        )
    if by is None:
        raise Refused("no-name", "Only a person issues a bill while something stands open, by name.")
    bill.despite = despite[:200]


def _next_number(series: str) -> int:
    NumberSeries.objects.get_or_create(series=series)
    NumberSeries.objects.filter(series=series).update(next=F("next") + 1)
    return NumberSeries.objects.get(series=series).next - 1


def _freeze(bill: Bill, seller: Seller, series: str, sequence: int, by: Person | None, now: datetime) -> Bill:
    customer = bill.customer
    days = seller.payment_days if customer.payment_days is None else customer.payment_days
    bill.series, bill.sequence, bill.number = series, sequence, f"{series}{sequence:05d}"
    bill.issued_at, bill.issued_by, bill.issued_on = now, by, timezone.localdate(now)
    bill.due_on = bill.issued_on + timedelta(days=days)
    bill.seller, bill.buyer = seller_details(seller), buyer_details(customer)
    bill.save()
    return bill


def seller_details(seller: Seller) -> dict[str, Any]:
    """Our details as a bill keeps them."""
    kept = {name: getattr(seller, name) for name in (*CONTACT_FIELDS, *PARTY_FIELDS, *BANK_FIELDS)}
    return kept | {"name": seller.name or YardSettings.current().business_name}


def buyer_details(customer: Customer) -> dict[str, Any]:
    """The customer's details as a bill keeps them; an address written as one text fills an empty street."""
    kept = {name: getattr(customer, name) for name in (*CONTACT_FIELDS, *PARTY_FIELDS)}
    kept["street"] = kept["street"] or " ".join(customer.address.split())
    return kept | {"code": customer.code, "reference": customer.buyer_reference}


@transaction.atomic
def credit_bill(*, bill: Bill, reason: str, by: Person | None, now: datetime | None = None) -> Bill:
    """Give an issued bill back whole: its mirror, numbered and frozen at once. The job is then billed anew.

    Raises Refused: "no-reason", "not-issued", "credited-already", "not-last".
    """
    now = now or timezone.now()
    if not reason.strip():
        raise Refused("no-reason", "Say why this bill is given back: it stands on the credit note.")
    seller = Seller.current()
    _one_at_a_time(bill.job_id)
    gives_back = bill.gross >= 0
    series = seller.credit_prefix if gives_back else seller.bill_prefix
    sequence = _next_number(series)
    found = Bill.objects.select_for_update(of=("self",)).select_related("customer").get(pk=bill.pk)
    _may_credit(found)
    last = Bill.objects.filter(job=found.job_id).issued().order_by("-id").first()
    Bill.objects.filter(job=found.job_id).drafts().delete()
    note = _mirror(found, last, reason.strip(), by, now)
    return _freeze(note, seller, series, sequence, by, now)


def _may_credit(bill: Bill) -> None:
    if bill.issued_at is None:
        raise Refused("not-issued", "This is a draft: throw it away, there is nothing to give back.")
    if bill.credits_id is not None:
        raise Refused("not-a-bill", f"{bill} itself gives a bill back. Draft the job anew to bill it again.")
    if bill.state == "credited":
        raise Refused("credited-already", f"{bill} was given back already, by {bill.given_back_by}.")
    later = Bill.objects.filter(job=bill.job_id).standing().filter(period_until__gt=bill.period_until).first()
    if later is not None:
        raise Refused("not-last", f"{later} was made on top of {bill}. Give back {later} first.")


def _mirror(bill: Bill, last: Bill | None, reason: str, by: Person | None, now: datetime) -> Bill:
    note = Bill.objects.create(
        kind=Bill.Kind.CREDIT_NOTE if bill.gross > 0 else Bill.Kind.BILL,
        customer=bill.customer,
        job_id=bill.job_id,
        period_from=bill.period_from,
        period_until=bill.period_until,
        currency=bill.currency,
        known_at=bill.known_at,
        drafted_at=now,
        drafted_by=by,
        after=last,
        credits=bill,
        reason=reason,
        net=-bill.net,
        tax=-bill.tax,
        gross=-bill.gross,
    )
    rows = list(bill.lines.order_by("position"))
    for row in rows:
        row.pk, row.bill, row.net = None, note, -row.net
        row.quantity, row.parts, row.cost = -row.quantity, [], None
    BillLine.objects.bulk_create(rows, batch_size=500)
    taxes = list(bill.taxes.all())
    for one in taxes:
        one.pk, one.bill, one.base, one.amount = None, note, -one.base, -one.amount
    BillTax.objects.bulk_create(taxes)
    return note


def discard_draft(*, bill: Bill) -> None:
    """Throw a draft away; it never had a number."""
    if bill.issued_at is not None:
        raise Refused("issued-already", f"{bill} was issued: it can only be given back with a credit note.")
    bill.delete()


def places_of(bill: Bill) -> int:
    """Decimal places of its currency."""
    return minor_units(bill.currency)


def catalogue_names(codes: Iterable[str]) -> dict[str, str]:
    return dict(GearType.objects.filter(code__in=set(codes)).values_list("code", "name"))


def in_currency(amount: Decimal, currency: str) -> Decimal:
    """An amount with the decimal places of its currency."""
    return amount.quantize(Decimal(1).scaleb(-minor_units(currency)))
