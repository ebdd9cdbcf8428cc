"""The hire desk: what is ready to bill and what blocks it, bills from draft to issue, a line down to its scans."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST
from django_htmx.http import HttpResponseClientRefresh

from inventory.forms.filters import ListFilter
from inventory.models import YardSettings
from inventory.models.roles import Role, roles_of
from inventory.services.work import ask_to_cancel
from inventory.views.access import allow
from inventory.views.listing import NUMBER, DayColumn, ListPage, ListTable
from inventory.views.markup import status
from inventory.views.who import person_of
from jobs.errors import Refused
from jobs.forms.hire import DespiteForm, DraftsForm, LookedForm, ReasonForm, UntilForm
from jobs.models import Bill, BillLine, BillRun, Customer, Job
from jobs.selectors.bill_scans import desk_charge, line_stays, scans_of, scans_of_charge
from jobs.selectors.hire_desk import compared, jobs_to_bill, stands_open
from jobs.selectors.hired_in import hired_in_on
from jobs.services.bill_runs import ask_issuing, ask_run
from jobs.services.billing import credit_bill, discard_draft, draft_bill, in_currency, issue_bill, places_of
from jobs.tasks import draft_bills, issue_bills
from jobs.views.bill_paper import rate_words
from jobs.views.terms import DESK


class MoneyColumn(tables.Column):
    """An amount in the bill's own currency."""

    def __init__(self, **options: Any) -> None:
        super().__init__(attrs=NUMBER, **options)

    def render(self, value: Any, record: Bill) -> str:
        return f"{in_currency(value, record.currency):,} {record.currency}"

    def value(self, value: Any, record: Bill) -> Any:
        return in_currency(value, record.currency)


class BillTable(ListTable):
    number = tables.Column(linkify=("bill", {"pk": tables.A("pk")}), verbose_name="Bill", empty_values=())
    state = tables.Column(verbose_name="State", orderable=False)
    period_until = DayColumn(verbose_name="Up to")
    issued_on = DayColumn(verbose_name="Issued")
    due_on = DayColumn(verbose_name="Due")
    gross = MoneyColumn(verbose_name="Gross")

    def render_number(self, record: Bill) -> str:
        return str(record)

    def render_state(self, value: str) -> str:
        return status(value)

    def value_state(self, value: str) -> str:
        return value

    class Meta(ListTable.Meta):
        model = Bill
        fields = ("number", "kind", "state", "customer", "job", "period_until", "issued_on", "due_on", "gross")


class BillFilter(ListFilter):
    search_fields = ("number__icontains", "customer__name__icontains", "job__code__icontains")
    search_label = "Number, customer or job"

    class Meta:
        model = Bill
        fields = {"kind": ["exact"], "customer": ["exact"], "issued_on": ["gte", "lte"]}


@allow(*DESK)
class BillList(ListPage):
    title = "Bills"
    template_name = "hire/bills.html"
    table_class = BillTable
    filter_class = BillFilter
    export_name = "bills"
    order = ("-pk",)
    empty_heading = "No bills yet"
    empty_sentence = "Drafts made with the press above, and what was issued of them."

    def rows(self) -> QuerySet:
        return Bill.objects.select_related("customer", "job", "given_back_by").defer("facts")

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        ready, run = jobs_to_bill(), BillRun.objects.first()
        drafts, to_issue = sum(each.draft is not None for each in ready), sum(each.is_ready for each in ready)
        more = {
            "ready": ready,
            "blocked": sum(each.blocked for each in ready),
            "drafts": drafts,
            "to_issue": to_issue,
            "held": drafts - to_issue,
            "under_way": run is not None and not run.is_over,
            "looked": LookedForm(),
            "form": DraftsForm(today=timezone.localdate()),
            "run": run,
            "today": timezone.localdate(),
        }
        return super().get_context_data(**more, **kwargs)


@allow(*DESK)
@require_POST
def draft(request: HttpRequest) -> HttpResponse:
    """Drafts for one job at once, or for a customer or everybody by the worker."""
    form = UntilForm(request.POST, today=timezone.localdate())
    if not form.is_valid():
        messages.error(request, "Say up to which day to bill.")
        return redirect("bills")
    until, by = form.cleaned_data["until"], person_of(request)
    job, customer = request.POST.get("job", ""), request.POST.get("customer", "")
    if job.isdigit():
        return _draft_one(request, get_object_or_404(Job, pk=int(job)), until, by)
    whose = get_object_or_404(Customer, pk=int(customer)) if customer.isdigit() else None
    run = ask_run(until=until, by=by, customer=whose)
    draft_bills.enqueue(run.pk)
    return redirect("bills")


def _draft_one(request: HttpRequest, job: Job, until: Any, by: Any) -> HttpResponse:
    try:
        made = draft_bill(job=job, until=until, by=by)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("bills")
    return redirect("bill", made.pk)


@allow(*DESK)
@require_POST
def issue_all(request: HttpRequest) -> HttpResponse:
    """Every draft that is ready, by the worker; what holds the others up is said when it is over."""
    if not LookedForm(request.POST).is_valid():
        messages.error(request, "Say that the drafts were looked at: what is issued can no longer be changed.")
        return redirect("bills")
    try:
        issue_bills.enqueue(ask_issuing(by=person_of(request)).pk)
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("bills")


@allow(*DESK)
def run_part(request: HttpRequest, pk: int) -> HttpResponse:
    """How far the run is; once it is over, or opened by hand, the whole page."""
    run = get_object_or_404(BillRun, pk=pk)
    if not getattr(request, "htmx", False):
        return redirect("bills")
    return HttpResponseClientRefresh() if run.is_over else render(request, "hire/run.html", {"run": run})


@allow(*DESK)
@require_POST
def run_cancel(request: HttpRequest, pk: int) -> HttpResponse:
    run = get_object_or_404(BillRun, pk=pk)
    if not run.is_over:
        ask_to_cancel(run)
    return redirect("bills")


@allow(*DESK)
def bill(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Bill.objects.select_related("customer", "job", "credits", "given_back_by"), pk=pk)
    earlier, kinds = compared(found)
    lines = list(found.lines.all())
    context = {
        "title": f"{found.kind.capitalize()} {found.number}" if found.number else f"Draft for {found.job}",
        "bill": found,
        "lines": [(one, _length(one), rate_words(one, places_of(found))) for one in lines],
        "hired_in": hired_in_on(found, lines),
        "taxes": found.taxes.all(),
        "earlier": earlier,
        "kinds": kinds,
        "open": stands_open(found) if found.issued_at is None else [],
        "form": ReasonForm(),
        "despite": DespiteForm(),
        "settings": YardSettings.current(),
    }
    return render(request, "hire/bill.html", context)


def _length(line: BillLine) -> str:
    """Days or uses to the period's end; "in all" where some of them were billed before."""
    for number, word in ((line.days, "day"), (line.uses, "use")):
        if number is not None:
            return f"{number} {word}{'' if number == 1 else 's'}{' in all' if line.billed_before else ''}"
    return ""


@allow(*DESK)
def line(request: HttpRequest, pk: int, position: int) -> HttpResponse:
    """A line and the stays it is for: the first of two presses."""
    found = get_object_or_404(Bill.objects.select_related("job", "credits"), pk=pk)
    row = get_object_or_404(found.lines, position=position)
    context = {"title": row.description, "bill": found, "line": row, "stays": line_stays(found, row)}
    context |= {"scans": scans_of_charge(found, row), "note": desk_charge(row)}
    made_by_record = row.key.startswith("charge:") and ":desk-" not in row.key
    context["waivable"] = row.key.removeprefix("charge:") if made_by_record else ""
    return render(request, "hire/line.html", context)


@allow(*DESK)
def stay(request: HttpRequest, pk: int, position: int, number: int) -> HttpResponse:
    """A stay and the scans that made it: the second."""
    found = get_object_or_404(Bill.objects.select_related("job", "credits"), pk=pk)
    row = get_object_or_404(found.lines, position=position)
    stays = line_stays(found, row)
    if number >= len(stays):
        return redirect("bill-line", pk, position)
    context = {"bill": found, "line": row, "stay": stays[number], "scans": scans_of(stays[number], found)}
    return render(request, "hire/stay.html", context | {"title": f"Stay of {stays[number].label}"})


@allow(*DESK)
@require_POST
def issue(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Bill, pk=pk)
    try:
        found = issue_bill(bill=found, by=person_of(request), despite=request.POST.get("despite", ""))
    except Refused as refused:
        messages.error(request, refused.sentence)
        if refused.code == "stands-open":
            return redirect("bill", pk)
        ours = refused.code == "no-seller" and Role.MANAGER in roles_of(request.user)
        return redirect("seller" if ours else "bills")
    messages.success(request, f"{found.number} is issued. It can no longer be changed, only given back.")
    return redirect("bill", found.pk)


@allow(*DESK)
@require_POST
def discard(request: HttpRequest, pk: int) -> HttpResponse:
    try:
        discard_draft(bill=get_object_or_404(Bill, pk=pk))
        messages.success(request, "The draft is thrown away. It never had a number.")
    except Refused as refused:
        messages.error(request, refused.sentence)
    return redirect("bills")


@allow(*DESK)
@require_POST
def credit(request: HttpRequest, pk: int) -> HttpResponse:
    try:
        note = credit_bill(
            bill=get_object_or_404(Bill, pk=pk), reason=request.POST.get("reason", ""), by=person_of(request)
        )
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("bill", pk)
    messages.success(request, f"{note.number} gives it back. Draft the job anew to bill it again.")
    return redirect("bill", note.pk)
