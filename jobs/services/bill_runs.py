"""Drafting or issuing many bills: asked for in one press, done by the worker, job by job."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from datetime import date, datetime
from functools import partial

from django.db import DatabaseError
from django.db.models import QuerySet
from django.utils import timezone

from inventory.models import Person
from inventory.services.work import WorkCancelled, answered, beat, begin, cancelled, failed
from jobs.errors import Refused
from jobs.models import Bill, BillRun, Customer, Job
from jobs.selectors.hire_moves import read_world
from jobs.services.billing import draft_bill, issue_bill

logger = logging.getLogger("pourback.bills")
BROKE_ON_ONE = "It broke off here. Tell the person who runs the server: the reason stands in its log."
BROKE_OFF = "It broke off half way. What was drafted or issued stands; ask again for the rest."
NOT_WORTH_SAYING = ("nothing-to-bill", "billed-already")

Step = tuple[str, Callable[[], object]]


def ask_run(
    *, until: date, by: Person | None, customer: Customer | None = None, now: datetime | None = None
) -> BillRun:
    """A run of drafts that waits for a worker. One for the same that waits or works already is given back."""
    same = _under_way(BillRun.Work.DRAFTING).filter(until=until, customer=customer).first()
    if same is not None:
        return same
    return BillRun.objects.create(until=until, customer=customer, asked_at=now or timezone.now(), asked_by=by)


def ask_issuing(*, by: Person | None, now: datetime | None = None) -> BillRun:
    """A run that issues every draft there is now. One that waits or works already is given back.

    Raises Refused: "no-drafts".
    """
    same = _under_way(BillRun.Work.ISSUING).first()
    if same is not None:
        return same
    last = Bill.objects.drafts().order_by("-period_until").values_list("period_until", flat=True).first()
    if last is None:
        raise Refused("no-drafts", "There is no draft to issue. Draft the bills first, and look at them.")
    asked_at = now or timezone.now()
    return BillRun.objects.create(work=BillRun.Work.ISSUING, until=last, asked_at=asked_at, asked_by=by)


def _under_way(work: BillRun.Work) -> QuerySet[BillRun]:
    states = [BillRun.State.WAITING, BillRun.State.WORKING]
    return BillRun.objects.filter(work=work, state__in=states, cancel_asked=False)


def do_run(*, run: BillRun) -> None:
    """Draft every job of the run, or issue every draft; what is refused is left out, with the reason.

    Each bill is drafted or issued by itself: what is done stands, whatever becomes of the rest.
    """
    if not begin(run):
        return
    done, left_out = 0, []
    try:
        steps = list(_issuing(run) if run.issues else _drafting(run))
        for place, (code, step) in enumerate(steps):
            beat(run, 100 * place // max(1, len(steps)), code)
            why = _refusal(code, step)
            done += why is None
            left_out += [[code, why]] if why else []
        answered(run, left_out=left_out, **{"issued" if run.issues else "drafted": done})
    except WorkCancelled:
        cancelled(run)
    except Exception:
        failed(run, BROKE_OFF)
        raise


def _refusal(code: str, step: Callable[[], object]) -> str | None:
    """Why a step was not taken; empty where that is not worth saying, None where it was taken."""
    try:
        step()
    except Refused as refused:
        return "" if refused.code in NOT_WORTH_SAYING else refused.sentence
    except DatabaseError:
        raise
    except Exception:
        logger.exception("The bill of job %s broke off", code)
        return BROKE_ON_ONE
    return None


def _drafting(run: BillRun) -> Iterable[Step]:
    world = read_world()
    for job in jobs_to_bill(run.customer):
        yield job.code, partial(draft_bill, job=job, until=run.until, by=run.asked_by, world=world)


def _issuing(run: BillRun) -> Iterable[Step]:
    """Numbers follow the customers' names, so that a bundle of bills lies in the order of its numbers."""
    drafts = Bill.objects.drafts().filter(drafted_at__lte=run.asked_at).select_related("job").defer("facts")
    for bill in drafts.order_by("customer__name", "job__code", "pk"):
        yield bill.job.code, partial(issue_bill, bill=bill, by=run.asked_by)


def jobs_to_bill(customer: Customer | None = None) -> list[Job]:
    """Jobs that may owe something, oldest first."""
    found = Job.objects.exclude(stage__in=[Job.Stage.ASKED, Job.Stage.DECLINED]).select_related("customer")
    if customer is not None:
        found = found.filter(customer=customer)
    return list(found.order_by("starts_on", "id"))
