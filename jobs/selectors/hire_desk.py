"""What the hire desk looks at: jobs with something to bill, what blocks each, and how it stands against last time."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django.db.models import Q, Sum
from django.utils import timezone

from inventory.models import Docket, Place, ReviewItem
from jobs.models import Bill, BillLine, HireTerms, Job, Payment


@dataclass
class ToBill:
    """One job: billed to which day, its draft and its last bill if there are any, and what blocks it."""

    job: Job
    billed_to: date | None = None
    draft: Bill | None = None
    last: Bill | None = None
    reviews: int = 0
    dockets: list[Docket] = field(default_factory=list)
    no_terms: bool = False

    @property
    def end(self) -> datetime | None:
        """The end of the draft's period: what happens from then on is no matter to it. None where there is no draft."""
        return timezone.make_aware(datetime.combine(self.draft.period_until, time.min)) if self.draft else None

    @property
    def is_ready(self) -> bool:
        """Whether its draft can go out as it is."""
        return self.draft is not None and not self.words

    def before_its_end(self, when: datetime | None) -> bool:
        return self.end is None or when is None or when < self.end

    @property
    def unpriced(self) -> list[dict[str, Any]]:
        """What the draft leaves out for want of a price."""
        return [one for one in self.draft.left_out if one["blocks"]] if self.draft else []

    @property
    def blocked(self) -> bool:
        return bool(self.reviews or self.dockets or self.no_terms or self.unpriced)

    @property
    def words(self) -> list[str]:
        """What stands open, a clause each."""
        found = [f"{self.reviews} open review{'s' if self.reviews != 1 else ''}"] if self.reviews else []
        found += [f"docket {docket.number} is {docket.stage}" for docket in self.dockets]
        return found + [f"no price for {one['description']}" for one in self.unpriced]

    @property
    def change(self) -> Decimal | None:
        """The draft's net less the last bill's."""
        return self.draft.net - self.last.net if self.draft and self.last else None


def stands_open(bill: Bill) -> list[str]:
    """What may still change a draft, in words: of the time up to its end, cards to settle and trucks not closed, and
    whatever it leaves out for want of a price."""
    state = ToBill(bill.job, draft=bill)
    _reviews({bill.job.site_id: state})
    _dockets({bill.job.site_id: state})
    return state.words


def jobs_to_bill(jobs: Iterable[Job] | None = None) -> list[ToBill]:
    """Jobs with hire, blocked ones marked. A fixed number of queries, however many jobs."""
    rows = Job.objects.filter(stage__in=Job.HAVING_HIRE).select_related("customer") if jobs is None else jobs
    found = {job.pk: ToBill(job) for job in rows}
    for bill in Bill.objects.filter(job__in=found).order_by("pk").defer("facts").select_related("given_back_by"):
        each = found[bill.job_id]
        if bill.issued_at is None:
            each.draft = bill
        elif bill.credits_id is None and bill.state == "issued":
            each.last, each.billed_to = bill, bill.period_until
    sites = {each.job.site_id: each for each in found.values()}
    _reviews(sites)
    _dockets(sites)
    _terms(found)
    return sorted(found.values(), key=lambda each: (each.job.customer.name, each.job.code))


def _reviews(sites: dict[int, ToBill]) -> None:
    """Open cards about a job's site: where the event was, whose docket it came with, or where the piece stands."""
    named = ("event__place", "event__docket__from_place", "event__docket__to_place", "piece__place")
    rows = list(ReviewItem.objects.open().values_list("event__happened_at", *named))
    parents = dict(Place.objects.exclude(parent=None).values_list("pk", "parent_id")) if rows else {}
    for happened, *places in rows:
        for site in {parents.get(place, place) for place in places if place} & sites.keys():
            sites[site].reviews += sites[site].before_its_end(happened)


def _dockets(sites: dict[int, ToBill]) -> None:
    moving = Docket.objects.open().filter(left_at__isnull=False)
    for docket in moving.filter(Q(from_place__in=sites) | Q(to_place__in=sites)).order_by("pk"):
        for site in {docket.from_place_id, docket.to_place_id} & sites.keys():
            if sites[site].before_its_end(docket.left_at):
                sites[site].dockets.append(docket)


def _terms(found: dict[int, ToBill]) -> None:
    rows = HireTerms.objects.values_list("customer", "job")
    customers, jobs = {customer for customer, _ in rows}, {job for _, job in rows}
    for_all = (None, None) in set(rows)
    for each in found.values():
        each.no_terms = not (for_all or each.job.customer_id in customers or each.job.pk in jobs)


@dataclass(frozen=True)
class Compared:
    """One kind of charge on two bills."""

    kind: str
    now: Decimal
    before: Decimal

    @property
    def change(self) -> Decimal:
        return self.now - self.before


def compared(bill: Bill) -> tuple[Bill | None, list[Compared]]:
    """A bill against the one before it on the job, by kind of charge, adjustments apart."""
    earlier = Bill.objects.filter(job=bill.job_id, credits=None).issued().filter(pk__lt=bill.pk).order_by("-pk").first()
    now, before = _by_kind(bill), _by_kind(earlier) if earlier else {}
    kinds = sorted({*now, *before})
    nil = Decimal(0)
    return earlier, [Compared(kind, now.get(kind, nil), before.get(kind, nil)) for kind in kinds]


def _by_kind(bill: Bill) -> dict[str, Decimal]:
    found: dict[str, Decimal] = {}
    rows = BillLine.objects.filter(bill=bill).order_by().values_list("part", "kind").annotate(net=Sum("net"))
    for part, kind, net in rows:
        name = "adjustments" if part == BillLine.Part.ADJUSTMENT else kind
        found[name] = found.get(name, Decimal(0)) + net
    return found


@dataclass
class Entry:
    """A line of a customer's statement: a bill, a credit note or a payment, and the balance after it."""

    on: date
    what: str
    bill: Bill | None
    amount: Decimal
    balance: Decimal = Decimal(0)


@dataclass
class Account:
    """What a customer owes in one currency, and which bills of it are overdue by how much."""

    currency: str
    entries: list[Entry]
    open: list[tuple[Bill, Decimal]]
    balance: Decimal
    overdue: Decimal


def accounts_of(customer: int, today: date) -> list[Account]:
    """Statements of account by currency. Money pays the bill it names, else the oldest first; so do credits."""
    bills = Bill.objects.filter(customer=customer).issued().defer("facts").select_related("given_back_by")
    entries: dict[str, list[Entry]] = defaultdict(list)
    for bill in bills:
        entries[bill.currency].append(Entry(bill.issued_on or today, f"{bill.kind} {bill.number}", bill, bill.gross))
    payments = list(Payment.objects.filter(customer=customer).select_related("bill").defer("bill__facts"))
    for paid in payments:
        what = f"payment {paid.reference}".strip() + (f", for {paid.bill}" if paid.bill else "")
        entries[paid.currency].append(Entry(paid.received_on, what, None, -paid.amount))
    return [_account(currency, rows, payments, today) for currency, rows in sorted(entries.items())]


def _account(currency: str, rows: list[Entry], payments: list[Payment], today: date) -> Account:
    rows.sort(key=lambda entry: (entry.on, entry.bill.pk if entry.bill else 10**12))
    balance = Decimal(0)
    for entry in rows:
        balance += entry.amount
        entry.balance = balance
    named: Counter[int] = Counter()
    for paid in payments:
        if paid.currency == currency and paid.bill_id:
            named[paid.bill_id] += paid.amount
    free = sum((paid.amount for paid in payments if paid.currency == currency and not paid.bill_id), Decimal(0))
    left = _left([entry.bill for entry in rows if entry.bill], named, free)
    late = sum((owed for bill, owed in left if bill.due_on and bill.due_on < today), Decimal(0))
    return Account(currency, rows, left, balance, max(Decimal(0), late))


def _left(bills: list[Bill], named: Counter[int], free: Decimal) -> list[tuple[Bill, Decimal]]:
    """What of each bill is still to pay, the oldest paid first by money and credits that name none."""
    owed: dict[int, Decimal] = {}
    for bill in bills:
        rest = bill.gross - named[bill.pk]
        if bill.credits_id in owed:
            rest += owed.pop(bill.credits_id)
        if rest < 0:
            free -= rest
        elif rest:
            owed[bill.pk] = rest
    by_pk, left = {bill.pk: bill for bill in bills}, []
    for pk in sorted(owed, key=lambda one: (by_pk[one].due_on or date.max, one)):
        paid = min(free, owed[pk])
        free -= paid
        if owed[pk] > paid:
            left.append((by_pk[pk], owed[pk] - paid))
    return left
