"""Which terms hold for a job and when: the job's own before the customer's, before the yard's."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime

from django.conf import settings
from django.db.models import Q

from jobs.hire.codec import read
from jobs.hire.terms import Terms
from jobs.models import HireTerms, Job


def terms_of(row: HireTerms) -> Terms:
    """A row as the plain terms that charging takes. Instants become days in the yard's zone unless it says other."""
    plain: Terms = read(Terms, row.document, "terms")
    return replace(
        plain,
        id=f"T{row.pk}",
        holds_from=row.holds_from,
        replaces=f"T{row.replaces_id}" if row.replaces_id else "",
        time_zone=plain.time_zone or settings.TIME_ZONE,
    )


def terms_for(job: Job, known_at: datetime | None = None) -> tuple[Terms, ...]:
    """The terms of a job in order of their first day, as recorded by `known_at`; empty when nothing was agreed.

    Wrong terms that were corrected are gone, as if they had never been. From the day a narrower set first holds,
    wider ones say nothing more.
    """
    return composed(rows_for(job, known_at))


def rows_for(job: Job, known_at: datetime | None = None) -> list[HireTerms]:
    """Every set of terms that concerns a job, the yard's and the customer's among them."""
    rows = HireTerms.objects.filter(Q(customer=None, job=None) | Q(customer=job.customer_id) | Q(job=job))
    if known_at is not None:
        rows = rows.filter(recorded_at__lte=known_at)
    return list(rows.order_by("recorded_at", "id"))


def composed(rows: Iterable[HireTerms]) -> tuple[Terms, ...]:
    """Rows in the order they were recorded, as one run of terms. Of two with one first day the later holds."""
    every = list(rows)
    gone = {row.replaces_id for row in every if row.replaces_id}
    layers: list[dict[date, HireTerms]] = [{}, {}, {}]
    for row in every:
        if row.pk not in gone:
            layers[2 if row.job_id else 1 if row.customer_id else 0][row.holds_from or date.min] = row
    found: dict[date, HireTerms] = {}
    for layer in layers:
        if layer:
            first = min(layer)
            found = {day: row for day, row in found.items() if day < first} | layer
    return tuple(terms_of(found[day]) for day in sorted(found))
