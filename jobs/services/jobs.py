"""Customers and jobs. A job is made with the place that is its site."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils import timezone

from inventory.lifecycle.kinds import PlaceKind
from inventory.models import Place
from jobs.errors import Refused
from jobs.models import Customer, Job
from jobs.services.inserts import keep_inserts

Row = TypeVar("Row", bound=models.Model)


def create_customer(*, code: str, name: str, **details: Any) -> Customer:
    """`details`: contact, email, phone, address."""
    customer = Customer(code=code.strip(), name=name.strip(), **details)
    checked(customer).save()
    return customer


@transaction.atomic
def create_job(
    *,
    code: str,
    name: str,
    customer: Customer,
    yard: Place,
    starts_on: date,
    ends_on: date | None = None,
    site_name: str = "",
    site_address: str = "",
    now: datetime | None = None,
    **settings: Any,
) -> Job:
    """A job asked for, and its site. `settings` are the job's own figures, such as max_overrun_mm."""
    if yard.kind != PlaceKind.YARD:
        raise Refused("not-a-yard", f"{yard} is not a yard: choose the yard that sends the gear.")
    site = Place(name=site_name.strip() or f"{code} {name}"[:80], kind=PlaceKind.SITE, address=site_address)
    checked(site).save()
    job = Job(code=code.strip(), name=name.strip(), customer=customer, site=site, yard=yard, **settings)
    job.starts_on, job.ends_on, job.asked_at = starts_on, ends_on, now or timezone.now()
    checked(job).save()
    return job


@transaction.atomic
def change_job(*, job: Job, **changes: Any) -> Job:
    keep_inserts(Job.objects.get(pk=job.pk))  # a form may have changed this one already
    for name, value in changes.items():
        setattr(job, name, value)
    checked(job).save(update_fields=list(changes))
    return job


def checked(row: Row) -> Row:
    """The row, if it keeps every rule of its table; else refused, with the first rule it breaks in words."""
    try:
        row.full_clean()
    except ValidationError as fault:
        field, messages = next(iter(fault.message_dict.items()))
        where = "" if field == "__all__" else f"{field.replace('_', ' ')}: "
        raise Refused("not-sound", f"{where}{messages[0]}") from fault
    return row
