"""The desk gives a customer a link to a bill, and takes it back."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.models.roles import Role
from inventory.views.access import allow
from inventory.views.who import person_of
from jobs.errors import Refused
from jobs.forms.bill_papers import LinkForm
from jobs.models import Bill
from jobs.models.sharing import BillLink
from jobs.selectors.bill_links import token_of
from jobs.services.bill_links import make_link, revoke_link

DESK = (Role.HIRE_DESK, Role.MANAGER)


@allow(*DESK)
def links(request: HttpRequest, pk: int) -> HttpResponse:
    """The links to one bill, and a form for another."""
    bill, now = get_object_or_404(Bill, pk=pk), timezone.now()
    form = LinkForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            made = make_link(bill=bill, by=person_of(request), now=now, **form.cleaned_data)
        except Refused as refused:
            form.add_error(None, refused.sentence)
        else:
            messages.success(request, f"The link for {made.sent_to} holds until {made.expires_at:%d %b %Y}.")
            return redirect("bill-links", pk)
    rows = [_row(request, link, now) for link in bill.links.select_related("made_by", "revoked_by")]
    holding = sum(row["state"] == "holds" for row in rows)
    context = {"title": f"Links to {bill}", "bill": bill, "form": form, "rows": rows, "holding": holding}
    return render(request, "bills/links.html", context)


def _row(request: HttpRequest, link: BillLink, now: object) -> dict[str, object]:
    state = link.state(now)  # type: ignore[arg-type]
    address = request.build_absolute_uri(reverse("shared-bill", args=[token_of(link)])) if state == "holds" else ""
    return {"link": link, "state": state, "address": address}


@require_POST
def _revoke(request: HttpRequest, pk: UUID) -> HttpResponse:
    link = get_object_or_404(BillLink, pk=pk)
    revoke_link(link=link, by=person_of(request), now=timezone.now())
    messages.success(request, f"The link for {link.sent_to} opens nothing any more.")
    return redirect("bill-links", link.bill_id)


revoke = allow(*DESK)(_revoke)
