"""Terms are recorded, never changed: new ones from their day, corrections in place of wrong ones."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory.models import GearType, Person
from jobs.errors import Refused
from jobs.models import Customer, HireTerms, Job


@transaction.atomic
def record_terms(
    *,
    name: str,
    document: dict[str, Any],
    by: Person | None,
    holds_from: date | None = None,
    agreed_by: str = "",
    customer: Customer | None = None,
    job: Job | None = None,
    replaces: HireTerms | None = None,
    now: datetime | None = None,
) -> HireTerms:
    """One set of terms, for the yard, a customer or a job. A correction takes the scope of what it replaces.

    Raises Refused: "corrected-already".
    """
    if replaces is not None:
        customer, job = replaces.customer, replaces.job
        if HireTerms.objects.filter(replaces=replaces).exists():
            raise Refused("corrected-already", f"{replaces} was corrected already. Correct the newer terms instead.")
    return HireTerms.objects.create(
        name=name,
        document=document,
        holds_from=holds_from,
        agreed_by=agreed_by,
        customer=customer,
        job=job,
        replaces=replaces,
        recorded_at=now or timezone.now(),
        recorded_by=by,
    )


def from_catalogue() -> dict[str, Any]:
    """A first document for the yard's own terms: the catalogue's rates and values as they are today."""
    rates, values = [], []
    for gear in GearType.objects.filter(withdrawn=False):
        prices = {unit: getattr(gear, f"rate_{unit}") for unit in ("day", "week", "month", "use")}
        said = {unit: _plain(price) for unit, price in prices.items() if price is not None}
        if said:
            rates.append({"type": gear.code} | said)
        if gear.replacement_value:
            values.append({"type": gear.code, "amount": _plain(gear.replacement_value)})
    return {"rates": rates, "replacement": values}


def _plain(amount: Any) -> str:
    return format(amount.normalize(), "f")
