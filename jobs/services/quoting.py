"""What a job would cost: a quotation from its load list and programme under given terms, and its acceptance."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory.models import GearType, Person, YardSettings
from jobs.errors import Refused
from jobs.hire.adjust import Period, Statement, statement
from jobs.hire.charges import charge_price
from jobs.hire.codec import write, write_short
from jobs.hire.stays import Charge, Facts, Stay, Use
from jobs.hire.terms import Terms
from jobs.models import CoverCheck, HireTerms, Job, Quotation
from jobs.selectors.hire_charges import terms_on
from jobs.selectors.hire_facts import is_on_hire
from jobs.selectors.hire_terms import composed, rows_for, terms_of
from jobs.selectors.loads import Loads, all_loads
from jobs.selectors.plans import read_plan
from jobs.selectors.pours import days_of, job_calendar
from jobs.selectors.stock import due_on
from jobs.services.hire_terms import record_terms

NO_PRICE = "The terms give no price for it: it is not in this sum, and a bill would wait for one."


def quote(
    *,
    job: Job,
    by: Person | None,
    terms: HireTerms | None = None,
    today: date | None = None,
    now: datetime | None = None,
) -> Quotation:
    """What the job costs if it goes as planned, under `terms` or those that would hold for it.

    Each load stays from its load day until gear comes back: with a planned return, else on the job's due day.
    Every form is cast once in each pour from its load on, as far as there are as many pours. What is used up is sold
    as it goes out. Loss, damage and cleaning are not foreseen. Raises Refused: "no-loads", "no-due-day", "no-terms".
    """
    today, now = today or timezone.localdate(), now or timezone.now()
    outs, backs, source = _loads(job, today)
    until = due_on(job, job_calendar(job))
    if until is None:
        raise Refused("no-due-day", f"{job} has no day on which its gear is due back: give one first.")
    until = max(until, max(outs) + timedelta(days=1))
    plain, name, document = _terms(job, terms)
    stays = tuple(_stays(outs, backs, until, plain))
    sold, unpriced = _sold(outs, plain)
    charges = (*_trucks(outs, backs, until, plain), *sold)
    facts = Facts(plain, stays, tuple(_uses(job, stays)), (), charges)
    priced = statement(facts, Period(min(outs), until + timedelta(days=1)), YardSettings.current().currency)
    return _keep(job, source, name, document, (priced, unpriced), facts, (min(outs), until), by, now)


def _loads(job: Job, today: date) -> tuple[Loads, Loads, str]:
    """What goes out and comes back, by day: the job's trucks, else the newest answered check's load list."""
    outs: Loads = {}
    backs: Loads = {}
    for delivery in job.deliveries.prefetch_related("lines__type"):
        heap = (backs if delivery.is_return else outs).setdefault(delivery.load_on, Counter())
        for line in delivery.lines.all():
            heap[line.type.code] += line.quantity
    if any(outs.values()):
        return outs, backs, "the job's load list"
    check = job.checks.filter(state=CoverCheck.State.ANSWERED).first()
    if check is None:
        raise Refused("no-loads", f"{job} has no load list yet. Check the stock for it first, then quote.")
    outs, backs = all_loads(read_plan(check), job, job_calendar(job), today)
    if not any(outs.values()):
        raise Refused("no-loads", f"The check of {job} sends nothing. Look at its panels, check again, then quote.")
    return outs, backs, "the cover check's load list"


def _terms(job: Job, chosen: HireTerms | None) -> tuple[tuple[Terms, ...], str, dict[str, Any]]:
    if chosen is not None:
        return (terms_of(chosen),), chosen.name, chosen.document
    rows = rows_for(job)
    plain = composed(rows)
    if not any(one.rates for one in plain):
        raise Refused("no-terms", f"No hire terms hold for {job}. Enter the yard's terms, or the customer's, first.")
    last = next(row for row in rows if f"T{row.pk}" == plain[-1].id)
    return plain, last.name, last.document


def _stays(outs: Loads, backs: Loads, until: date, terms: tuple[Terms, ...]) -> Iterable[Stay]:
    """First out, first back: each load as stays, cut where some of it is planned to come back early. What is on hire
    is what a bill would have on hire."""
    gear = GearType.objects.filter(used_up=False)
    by_count = set(gear.filter(tracked=GearType.Tracked.BY_COUNT).values_list("code", flat=True))
    kinds = {code: kind for code, kind in gear.values_list("code", "kind") if is_on_hire(code, kind, terms, by_count)}
    returns = {code: _queue(backs, code) for code in {code for heap in backs.values() for code in heap}}
    for day in sorted(outs):
        for code, count in sorted(outs[day].items()):
            if code not in kinds or not count:
                continue
            for number, (back, some) in enumerate(_split(count, returns.get(code, []), until), start=1):
                yield Stay(f"{day}/{code}/{number}", code, some, day, back, kind=kinds[code], line=f"load of {day}")


def _sold(outs: Loads, terms: tuple[Terms, ...]) -> tuple[list[Charge], list[Charge]]:
    """What is used up, load by load: (what the terms give a price for, what they do not)."""
    kinds = dict(GearType.objects.filter(used_up=True).values_list("code", "kind"))
    priced: list[Charge] = []
    unpriced: list[Charge] = []
    for day in sorted(outs):
        for code, count in sorted(outs[day].items()):
            if code in kinds and count:
                words = f"{code}: sold as it goes out on {day}"
                one = Charge(
                    "sale", words, Decimal(count), id=f"sale-{day}-{code}", type=code, gear=kinds[code], date=day
                )
                price, _ = charge_price(one, terms_on(terms, day))
                (unpriced if price is None else priced).append(one)
    return priced, unpriced


def _queue(backs: Loads, code: str) -> list[tuple[date, int]]:
    return [(day, backs[day][code]) for day in sorted(backs) if backs[day][code]]


def _split(count: int, queue: list[tuple[date, int]], until: date) -> Iterable[tuple[date, int]]:
    while count and queue:
        day, waiting = queue[0]
        taken = min(count, waiting)
        count -= taken
        queue[0:1] = [(day, waiting - taken)] if waiting > taken else []
        yield day, taken
    if count:
        yield until, count


def _uses(job: Job, stays: Iterable[Stay]) -> Iterable[Use]:
    """Forms and brackets that are out when a pour is cast are taken to be in it."""
    casts = sorted(days.cast for days in days_of(job, job_calendar(job)).values())
    for stay in stays:
        if stay.kind in (GearType.Kind.EDGE_FORM, GearType.Kind.FORM_BRACKET):
            yield from (Use(stay.id, day, stay.count) for day in casts if _is_out(stay, day))


def _is_out(stay: Stay, day: date) -> bool:
    return isinstance(stay.back, date) and stay.out <= day < stay.back


def _trucks(outs: Loads, backs: Loads, until: date, terms: tuple[Terms, ...]) -> Iterable[Charge]:
    if terms[-1].delivery.out is not None:
        for day in sorted(outs):
            yield Charge("delivery", f"Delivery on {day}", id=f"out-{day}", leg="out", date=day)
    if terms[-1].delivery.back is not None:
        for day in sorted({*backs, until}):
            yield Charge("delivery", f"Collection on {day}", id=f"back-{day}", leg="back", date=day)


def _keep(
    job: Job,
    source: str,
    name: str,
    document: dict[str, Any],
    worked_out: tuple[Statement, list[Charge]],
    facts: Facts,
    days: tuple[date, date],
    by: Person | None,
    now: datetime,
) -> Quotation:
    priced, unpriced = worked_out
    lines = [
        {"kind": one.kind, "type": one.type, "quantity": write(one.quantity), "net": write(one.net), "why": one.why}
        for one in priced.lines
    ]
    lines += [
        {"kind": one.kind, "type": one.type, "quantity": write(one.quantity), "net": "0", "why": NO_PRICE}
        for one in unpriced
    ]
    return Quotation.objects.create(
        job=job,
        made_at=now,
        made_by=by,
        source=source,
        terms_name=name,
        document=document,
        first=days[0],
        until=days[1],
        currency=priced.currency,
        lines=lines,
        facts=write_short(facts),
        net=priced.net,
        tax=priced.gross - priced.net,
        gross=priced.gross,
    )


@transaction.atomic
def accept_quotation(
    *, quotation: Quotation, accepted_by: str, by: Person | None, now: datetime | None = None
) -> HireTerms:
    """The customer agrees: what was quoted under becomes the job's own terms.

    Raises Refused: "no-name", "accepted-already", "other-accepted".
    """
    now = now or timezone.now()
    if not accepted_by.strip():
        raise Refused("no-name", "Say who accepted it, for the customer.")
    quotation = Quotation.objects.select_for_update(of=("self",)).select_related("job").get(pk=quotation.pk)
    if quotation.accepted_at is not None:
        raise Refused("accepted-already", "This quotation was accepted already.")
    other = Quotation.objects.filter(job=quotation.job).exclude(accepted_at=None).first()
    quotation.terms = record_terms(
        name=f"{quotation.terms_name}, as quoted"[:80],
        document=quotation.document,
        by=by,
        agreed_by=accepted_by.strip(),
        job=quotation.job,
        replaces=other.terms if other else None,
        now=now,
    )
    quotation.accepted_at, quotation.accepted_by = now, accepted_by.strip()
    quotation.save(update_fields=["terms", "accepted_at", "accepted_by"])
    return quotation.terms
