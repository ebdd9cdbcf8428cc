"""Drafting many bills: asked for in one press, done by the worker, job by job."""

from __future__ import annotations

import logging
from datetime import date, datetime

from django.db import DatabaseError
from django.utils import timezone

from inventory.models import Person
from inventory.services.work import WorkCancelled, answered, beat, begin, cancelled, failed
from jobs.errors import Refused
from jobs.models import BillRun, Customer, Job
from jobs.selectors.hire_moves import read_world
from jobs.services.billing import draft_bill

logger = logging.getLogger("pourback.bills")
BROKE_ON_ONE = "Drafting it broke off. Tell the person who runs the server: the reason stands in its log."
BROKE_OFF = "Drafting broke off. What was drafted stands; ask again for the rest."


def ask_run(
    *, until: date, by: Person | None, customer: Customer | None = None, now: datetime | None = None
) -> BillRun:
    """A run that waits for a worker. One for the same that waits or works already is given back."""
    under_way = BillRun.objects.filter(state__in=[BillRun.State.WAITING, BillRun.State.WORKING], cancel_asked=False)
    same = under_way.filter(until=until, customer=customer).first()
    if same is not None:
        return same
    return BillRun.objects.create(until=until, customer=customer, asked_at=now or timezone.now(), asked_by=by)


def draft_run(*, run: BillRun) -> None:
    """Draft every job of the run; a job that cannot be billed is left out, with the reason."""
    if not begin(run):
        return
    drafted, left_out = 0, []
    jobs = list(jobs_to_bill(run.customer))
    try:
        world = read_world()
        for place, job in enumerate(jobs):
            beat(run, 100 * place // max(1, len(jobs)), job.code)
            try:
                draft_bill(job=job, until=run.until, by=run.asked_by, world=world)
                drafted += 1
            except Refused as refused:
                if refused.code not in ("nothing-to-bill", "billed-already"):
                    left_out.append([job.code, refused.sentence])
            except DatabaseError:
                raise
            except Exception:
                logger.exception("Drafting the bill of job %s broke off", job.code)
                left_out.append([job.code, BROKE_ON_ONE])
        answered(run, drafted=drafted, left_out=left_out)
    except WorkCancelled:
        cancelled(run)
    except Exception:
        failed(run, BROKE_OFF)
        raise


def jobs_to_bill(customer: Customer | None = None) -> list[Job]:
    """Jobs that may owe something, oldest first."""
    found = Job.objects.exclude(stage__in=[Job.Stage.ASKED, Job.Stage.DECLINED]).select_related("customer")
    if customer is not None:
        found = found.filter(customer=customer)
    return list(found.order_by("starts_on", "id"))
