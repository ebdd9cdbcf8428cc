"""The desk's own records: written once, withdrawn beside, never changed; and money received."""

from __future__ import annotations

from datetime import datetime
from typing import TypeVar

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from inventory.models import Person
from jobs.errors import Refused
from jobs.models import Customer, NumberSeries, OffHire, Payment
from jobs.models.terms import Recorded

OFF_HIRE = "OH-"
Note = TypeVar("Note", bound=Recorded)


@transaction.atomic
def write_down(note: Note, *, by: Person | None, now: datetime | None = None) -> Note:
    """Keep a note, with who wrote it and when. An off-hire request gets its number."""
    note.recorded_at, note.recorded_by = now or timezone.now(), by
    if isinstance(note, OffHire):
        note.number = f"OH-{_next_off_hire():05d}"
    note.save()
    return note


def _next_off_hire() -> int:
    """As a bill's number is given: the series' row is the lock, so that two desks never get one number."""
    last = OffHire.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    NumberSeries.objects.get_or_create(series=OFF_HIRE, defaults={"next": last + 1})
    NumberSeries.objects.filter(series=OFF_HIRE).update(next=F("next") + 1)
    return NumberSeries.objects.get(series=OFF_HIRE).next - 1


@transaction.atomic
def withdraw(note: Recorded, *, by: Person | None, now: datetime | None = None) -> None:
    """Take a note back: it counts as if it had never been, and stays readable. Raises Refused "withdrawn-already"."""
    found = type(note)._default_manager.select_for_update(of=("self",)).get(pk=note.pk)
    if found.withdrawn_at is not None:
        raise Refused("withdrawn-already", "This was withdrawn already.")
    found.withdrawn_at, found.withdrawn_by = now or timezone.now(), by
    found.save(update_fields=["withdrawn_at", "withdrawn_by"])


@transaction.atomic
def confirm_off_hire(request: OffHire, *, by: Person | None, now: datetime | None = None) -> OffHire:
    """Only a confirmed request ends hire. Raises Refused: "withdrawn-already", "confirmed-already"."""
    found = OffHire.objects.select_for_update(of=("self",)).get(pk=request.pk)
    if found.withdrawn_at is not None:
        raise Refused("withdrawn-already", f"{found} was withdrawn: write down a new request.")
    if found.confirmed_at is not None:
        raise Refused("confirmed-already", f"{found} was confirmed already.")
    found.confirmed_at, found.confirmed_by = now or timezone.now(), by
    found.save(update_fields=["confirmed_at", "confirmed_by"])
    return found


def take_payment(
    payment: Payment, *, customer: Customer, currency: str, by: Person | None, now: datetime | None = None
) -> Payment:
    """Money received, or paid back where it is below nought."""
    payment.customer, payment.recorded_by, payment.recorded_at = customer, by, now or timezone.now()
    payment.currency = payment.bill.currency if payment.bill else currency
    payment.save()
    return payment
