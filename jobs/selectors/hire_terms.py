"""Which terms hold for a job and when: the job's own before the customer's, before the yard's."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime

from django.conf import settings
from django.db.models import Q

from jobs.hire.codec import read
from jobs.hire.terms import Terms
from jobs.models import Bill, HireTerms, Job


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
    wider ones say nothing more. New terms never touch days that were billed before they were recorded.
    """
    bills = Bill.objects.filter(job=job).standing().values_list("issued_at", "period_until")
    return composed(rows_for(job, known_at), bills)


def rows_for(job: Job, known_at: datetime | None = None) -> list[HireTerms]:
    """Every set of terms that concerns a job, the yard's and the customer's among them."""
    rows = HireTerms.objects.filter(Q(customer=None, job=None) | Q(customer=job.customer_id) | Q(job=job))
    if known_at is not None:
        rows = rows.filter(recorded_at__lte=known_at)
    return list(rows.order_by("recorded_at", "id"))


def composed(rows: Iterable[HireTerms], bills: Iterable[tuple[datetime | None, date]] = ()) -> tuple[Terms, ...]:
    """Rows in the order they were recorded, as one run of terms. Of two with one first day the later holds.

    `bills` are the job's standing bills: when each was issued, and the first day it does not cover.
    """
    every = {row.pk: row for row in rows}
    gone = {row.replaces_id for row in every.values() if row.replaces_id}
    issued = [(at, until) for at, until in bills if at is not None]
    layers: list[dict[date, HireTerms]] = [{}, {}, {}]
    for row in sorted(every.values(), key=lambda row: row.holds_from or date.min):
        if row.pk not in gone:
            layers[2 if row.job_id else 1 if row.customer_id else 0][_first_day(row, every, issued)] = row
    found: dict[date, HireTerms] = {}
    for layer in layers:
        if layer:
            first = min(layer)
            found = {day: row for day, row in found.items() if day < first} | layer
    return tuple(replace(terms_of(found[day]), holds_from=None if day == date.min else day) for day in sorted(found))


def _first_day(row: HireTerms, every: Mapping[int, HireTerms], issued: Iterable[tuple[datetime, date]]) -> date:
    """The first day a row holds for a job: what was billed before new terms were recorded stays as it was.

    A correction stands in for what it corrects, and was recorded with it; one that says an earlier day than the wrong
    terms did is meant to put the past right.
    """
    start = row.holds_from or date.min
    while row.replaces_id is not None and row.replaces_id in every:
        row = every[row.replaces_id]
        if start < (row.holds_from or date.min):
            return start
    return max([start, *(until for at, until in issued if at < row.recorded_at)])
