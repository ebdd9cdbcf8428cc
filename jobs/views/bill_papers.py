"""A bill on paper, as a table, and as an electronic invoice."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from inventory.models.roles import Role
from inventory.views.access import allow
from inventory.views.exporting import csv_response
from jobs.forms.bill_papers import IssuedForm
from jobs.hire.invoice.checks import check
from jobs.hire.invoice.ubl import write
from jobs.models import Bill, Seller
from jobs.selectors.bill_sheet import BillSheet
from jobs.selectors.invoices import document_of
from jobs.services.billing import buyer_details, seller_details
from jobs.views.bill_paper import as_pdf
from jobs.views.bill_table import COLUMNS, header, rows_of

DESK = (Role.HIRE_DESK, Role.MANAGER)
GIVEN_AT_ISSUING = ("BR-02", "BR-03", "BR-CO-25")  # number, day, and by when to pay


def whole_bills() -> QuerySet[Bill]:
    """Bills with all that their papers show."""
    return Bill.objects.select_related("customer", "job__site", "credits", "after").prefetch_related("lines", "taxes")


def get_bill(pk: int) -> Bill:
    """A bill with all its papers show; a draft with both parties' details as they are now, not kept with it."""
    found = get_object_or_404(whole_bills(), pk=pk)
    if found.issued_at is None:
        found.seller, found.buyer = seller_details(Seller.current()), buyer_details(found.customer)
    return found


@allow(*DESK)
def paper(_request: HttpRequest, pk: int) -> HttpResponse:
    return pdf_of(get_bill(pk))


@allow(*DESK)
def table(_request: HttpRequest, pk: int) -> StreamingHttpResponse:
    return csv_of(get_bill(pk))


@allow(*DESK)
def invoice(request: HttpRequest, pk: int) -> HttpResponse:
    """The electronic invoice; where it breaks a rule of the standard, what to put right instead.

    Of a draft, whether it would be one: what is wrong can still be put right before it is issued.
    """
    bill = get_bill(pk)
    document = document_of(bill)
    findings = [one for one in check(document) if bill.issued_at or one.rule not in GIVEN_AT_ISSUING]
    if findings or not bill.issued_at:
        context = {"title": f"{bill.number or 'Draft'} as an electronic invoice", "bill": bill, "findings": findings}
        return render(request, "bills/not_electronic.html", context)
    return xml_of(bill, write(document))


@allow(*DESK)
def export(request: HttpRequest) -> HttpResponseBase:
    """All bills issued in some days, as one table; the page explains its columns."""
    today = timezone.localdate()
    first = (today.replace(day=1) - timedelta(days=1)).replace(day=1)
    form = IssuedForm(request.GET if "first" in request.GET else None, initial={"first": first, "last": today})
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        bills = whole_bills().issued().filter(issued_on__range=(said["first"], said["last"]))  # type: ignore[attr-defined]
        rows = rows_of(bills.order_by("issued_on", "pk").iterator(chunk_size=200))
        return csv_response(_with_header(rows), f"bills-{said['first']}-{said['last']}")
    return render(request, "bills/export.html", {"title": "Bills for the books", "form": form, "columns": COLUMNS})


def _with_header(rows: Any) -> Any:
    yield header()
    yield from rows


def name_of(bill: Bill) -> str:
    """The name of a bill's file, without its ending."""
    word = "credit-note" if bill.is_credit_note else "bill"
    return f"{word}-{bill.number}" if bill.number else f"draft-{bill.pk}"


def pdf_of(bill: Bill) -> HttpResponse:
    response = HttpResponse(as_pdf(BillSheet(bill)), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name_of(bill)}.pdf"'
    return response


def csv_of(bill: Bill) -> StreamingHttpResponse:
    return csv_response(_with_header(rows_of([bill])), name_of(bill))


def xml_of(bill: Bill, written: bytes) -> HttpResponse:
    response = HttpResponse(written, content_type="application/xml; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name_of(bill)}.xml"'
    return response
