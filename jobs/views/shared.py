"""What a customer sees by a link: one bill, its dockets and return records, and nothing else.

No account, no session, no way on to any other page. Whoever has the address may look until it expires or is taken
back, so it is kept out of search engines, of caches, and of what a browser tells other sites.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any
from uuid import UUID

from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.selectors.dockets import sheet as docket_sheet
from inventory.views.access import public
from jobs.hire.invoice.checks import check
from jobs.hire.invoice.ubl import write
from jobs.models.sharing import BillLink
from jobs.selectors.bill_links import link_of
from jobs.selectors.bill_sheet import BillSheet, Section
from jobs.selectors.invoices import corrected, document_of
from jobs.services.bill_links import note_opened
from jobs.views.bill_paper import how_many, rate_words, title_of
from jobs.views.bill_papers import csv_of, pdf_of, xml_of

SHUT = {
    "Referrer-Policy": "no-referrer",
    "X-Robots-Tag": "noindex, nofollow, noarchive",
    "Cache-Control": "private, no-store",
}
View = Callable[..., HttpResponseBase]


def by_link(view: View) -> View:
    """For a page that a link opens: the view gets the link in place of the address's token, or is not asked."""

    @public
    @require_safe
    @wraps(view)
    def opened(request: HttpRequest, token: str, **named: Any) -> HttpResponseBase:
        link = link_of(token)
        state = link.state(timezone.now()) if link else "unknown"
        if link is None or state != "holds":
            answer: HttpResponseBase = _shut(request, link, state)
        else:
            try:
                answer = view(request, link, token, **named)
            except Http404:
                answer = _shut(request, None, "unknown")
        for name, value in SHUT.items():
            answer[name] = value
        return answer

    opened.asks_for_a_link = True
    return opened


def _shut(request: HttpRequest, link: BillLink | None, state: str) -> HttpResponse:
    seller = link.bill.seller if link else {}
    context = {"title": "This link opens nothing", "state": state, "seller": seller}
    return render(request, "shared/shut.html", context, status=404 if state == "unknown" else 410)


@by_link
def bill(request: HttpRequest, link: BillLink, token: str) -> HttpResponse:
    note_opened(link=link, now=timezone.now())
    sheet = BillSheet(link.bill)
    context = {
        "title": title_of(link.bill),
        "link": link,
        "token": token,
        "bill": link.bill,
        "sheet": sheet,
        "sections": [_section(sheet, one) for one in sheet.sections],
        "types": [(one, sheet.money(one.net)) for one in sheet.by_type],
        "taxes": [(one, sheet.money(one.base), sheet.money(one.amount)) for one in sheet.taxes],
        "net": sheet.money(link.bill.net),
        "gross": sheet.money(abs(link.bill.gross)),
        "refers": ", ".join(one.number or "" for one in corrected(link.bill)),
        "electronic": not check(document_of(link.bill)),
        "dockets": {one.number for one in sheet.dockets},
    }
    return render(request, "shared/bill.html", context)


def _section(sheet: BillSheet, section: Section) -> dict[str, Any]:
    rows = [(one, how_many(one), rate_words(one, sheet.places), sheet.money(one.net)) for one in section.rows]
    return {"docket": section.docket, "rows": rows, "net": sheet.money(section.net)}


@by_link
def paper(_request: HttpRequest, link: BillLink, _token: str) -> HttpResponse:
    return pdf_of(link.bill)


@by_link
def table(_request: HttpRequest, link: BillLink, _token: str) -> HttpResponseBase:
    return csv_of(link.bill)


@by_link
def invoice(_request: HttpRequest, link: BillLink, _token: str) -> HttpResponse:
    document = document_of(link.bill)
    if check(document):
        raise Http404
    return xml_of(link.bill, write(document))


@by_link
def docket(request: HttpRequest, link: BillLink, token: str, number: str) -> HttpResponse:
    """A docket that carried what is on the bill, as it reads: where from and to is said only of this job's site."""
    found = next((one for one in BillSheet(link.bill).dockets if one.number == number), None)
    if found is None:
        raise Http404
    context = {
        "title": f"Docket {number}",
        "bill": link.bill,
        "token": token,
        "docket": found,
        "sheet": docket_sheet(found),
        "came_in": found.to_place_id == link.bill.job.site_id,
    }
    return render(request, "shared/docket.html", context)


@by_link
def photo(_request: HttpRequest, link: BillLink, _token: str, pk: UUID) -> FileResponse:
    found = next((one.photo for one in BillSheet(link.bill).photos if one.photo.pk == pk), None)
    if found is None:
        raise Http404
    try:
        return FileResponse(found.image.open("rb"), content_type="image/jpeg")
    except FileNotFoundError:
        raise Http404 from None
