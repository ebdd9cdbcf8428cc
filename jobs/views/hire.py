"""One job's hire: its terms and notes, what it would cost and what it did; and the lists that should be empty."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.db.models import Sum
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.models import YardSettings
from inventory.models.roles import Role
from inventory.views.access import allow
from inventory.views.exporting import csv_response
from inventory.views.who import person_of
from jobs.errors import Refused
from jobs.forms.hire import NOTES, AcceptedForm, PaymentForm, QuoteForm, SellerForm, UntilForm
from jobs.models import Bill, Customer, HireTerms, Job, OffHire, Quotation, Seller
from jobs.selectors.hire_desk import accounts_of, jobs_to_bill
from jobs.selectors.hire_order import Off, bills_against_yard, overdue
from jobs.selectors.hire_terms import rows_for, terms_for
from jobs.services.hire_notes import confirm_off_hire, take_payment, withdraw, write_down
from jobs.services.quoting import accept_quotation, quote
from jobs.views.markup_money import money
from jobs.views.terms import DESK, LOOKERS

RELATED = {
    "stand-down": "stand_downs",
    "off-hire": "off_hires",
    "charge": "hire_charges",
    "exchange": "exchanges",
    "settled": "losses_settled",
    "price": "charge_prices",
    "waiver": "waivers",
}


@allow(*DESK)
def job_hire(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Job.objects.select_related("customer", "site"), pk=pk)
    held = {f"T{row.pk}": row for row in rows_for(found)}
    notes = [(name, words, list(_notes(found, name))) for name, (words, _) in NOTES.items()]
    state, plain = jobs_to_bill([found])[0], terms_for(found)
    context = {
        "title": f"Hire of {found.code}",
        "job": found,
        "state": state,
        "terms": [(held[one.id], one.holds_from) for one in plain],
        "ends_by_notice": any(one.ends == "off_hire" for one in plain),
        "notes": notes,
        "bills": found.bills.defer("facts").select_related("given_back_by"),
        "billed": found.bills.issued().aggregate(net=Sum("net"))["net"] or 0,
        "quotations": Quotation.objects.filter(job=found).defer("facts"),
        "accepted": Quotation.objects.filter(job=found).exclude(accepted_at=None).first(),
        "until": UntilForm(today=timezone.localdate(), after=_billed_or_begun(found, state.billed_to)),
        "currency": YardSettings.current().currency,
    }
    return render(request, "hire/job.html", context)


def _billed_or_begun(job: Job, billed_to: date | None) -> date | None:
    """The day to which the job is billed, else the day it begins; one that is back is billed to its very end."""
    return timezone.localdate() if job.stage == Job.Stage.BACK else billed_to or job.starts_on


def _notes(job: Job, name: str) -> Any:
    rows = getattr(job, RELATED[name]).select_related("recorded_by", "withdrawn_by")
    if name == "exchange":
        rows = rows.select_related("came_back", "went_out")
    return rows.select_related("piece") if name == "settled" else rows


@allow(*DESK)
def note_new(request: HttpRequest, pk: int, name: str) -> HttpResponse:
    found = get_object_or_404(Job, pk=pk)
    if name not in NOTES:
        raise Http404
    words, form_class = NOTES[name]
    form = form_class(request.POST or None, job=found, initial=dict(request.GET.items()))
    if request.method == "POST" and form.is_valid():
        write_down(form.save(commit=False), by=person_of(request))
        messages.success(request, "It is written down, and counts from the next draft on.")
        return redirect("job-hire", pk)
    context = {"title": words, "form": form, "press": words, "up": reverse("job-hire", args=[pk])}
    return render(request, "hire/form.html", context | {"up_words": f"Hire of {found.code}"})


@allow(*DESK)
@require_POST
def note_withdraw(request: HttpRequest, pk: int, name: str, note: int) -> HttpResponse:
    if name not in NOTES:
        raise Http404
    found = get_object_or_404(Job, pk=pk)
    try:
        withdraw(get_object_or_404(getattr(found, RELATED[name]), pk=note), by=person_of(request))
        messages.success(request, "It is withdrawn. What was billed with it is put right on the next bill.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("job-hire", pk)


@allow(*DESK)
@require_POST
def off_hire_confirm(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(OffHire, pk=pk)
    try:
        confirm_off_hire(found, by=person_of(request))
        messages.success(request, f"{found} is confirmed: tell the customer this number.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("job-hire", found.job_id)


@allow(*LOOKERS, write=LOOKERS)
@require_POST
def quote_new(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Job, pk=pk)
    chosen = request.POST.get("terms", "")
    terms = get_object_or_404(HireTerms, pk=int(chosen)) if chosen.isdigit() else None
    try:
        made = quote(job=found, by=person_of(request), terms=terms)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("job", pk)
    return redirect("quotation", made.pk)


@allow(*LOOKERS, write=DESK)
def quotation(request: HttpRequest, pk: int) -> HttpResponse:
    """What it would cost; once accepted, against what was billed."""
    found = get_object_or_404(Quotation.objects.select_related("job__customer", "terms"), pk=pk)
    form = AcceptedForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            accept_quotation(quotation=found, accepted_by=form.cleaned_data["accepted_by"], by=person_of(request))
            messages.success(request, "Accepted: what it was quoted under is now the job's own terms.")
        except Refused as refused:
            messages.error(request, refused.sentence)
        return redirect("quotation", pk)
    bills = Bill.objects.filter(job=found.job_id).issued()
    billed = dict(bills.order_by().values_list("lines__kind").annotate(net=Sum("lines__net")))
    quoted: dict[str, Any] = {}
    for row in found.lines:
        quoted[row["kind"]] = quoted.get(row["kind"], 0) + Decimal(row["net"])
    kinds = [(kind, quoted.get(kind, 0), billed.get(kind) or 0) for kind in sorted({*quoted, *filter(None, billed)})]
    against = [(kind, asked, had, had - asked) for kind, asked, had in kinds]
    context = {"title": f"Quotation for {found.job}", "quotation": found, "form": form, "against": against}
    billed_net = sum(had for _, _, had, _ in against)
    context |= {"billed": billed_net, "more": billed_net - found.net, "other": QuoteForm()}
    return render(request, "hire/quotation.html", context)


@allow(*DESK, Role.PLANNER)
def stays(request: HttpRequest) -> HttpResponseBase:
    """Gear and bills that do not agree: three lists, empty when the yard is in order."""
    today = timezone.localdate()
    returned, astray = bills_against_yard(today)
    late = overdue(today)
    if request.GET.get("save") == "csv":
        return csv_response(off_rows({"overdue": late, "not billed off": returned, "not on site": astray}), "stays")
    context = {"late": late, "returned": returned, "astray": astray}
    return render(request, "hire/stays.html", context | {"title": "Gear against bills"})


def off_rows(lists: dict[str, list[Off]]) -> Iterator[list[Any]]:
    """The three lists as one table."""
    yield ["list", "piece", "type", "job", "customer", "last bill", "what is known", "since"]
    for name, rows in lists.items():
        for off in rows:
            bill = off.bill.number if off.bill else ""
            since = f"{timezone.localtime(off.since):%Y-%m-%d %H:%M}" if off.since else ""
            yield [
                name,
                off.piece.label,
                off.piece.type.code,
                off.job.code,
                off.job.customer.name,
                bill,
                off.words,
                since,
            ]


@allow(*DESK)
def account(request: HttpRequest, pk: int) -> HttpResponse:
    """A customer's statement of account, and money received."""
    found = get_object_or_404(Customer, pk=pk)
    form = PaymentForm(request.POST or None, customer=pk, initial={"received_on": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        paid = form.save(commit=False)
        take_payment(paid, customer=found, currency=YardSettings.current().currency, by=person_of(request))
        messages.success(request, f"{money(paid.amount, paid.currency)} is entered.")
        return redirect("customer-account", pk)
    accounts = accounts_of(pk, timezone.localdate())
    context = {"title": f"Account of {found.name}", "customer": found, "accounts": accounts, "form": form}
    return render(request, "hire/account.html", context | {"today": timezone.localdate()})


@allow(Role.MANAGER)
def seller(request: HttpRequest) -> HttpResponse:
    form = SellerForm(request.POST or None, instance=Seller.current())
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Kept. Bills already issued carry our details as they were.")
        return redirect("seller")
    context = {"title": "Our details on bills", "form": form, "press": "Keep these", "up": reverse("bills")}
    return render(request, "hire/form.html", context | {"up_words": "Bills"})
