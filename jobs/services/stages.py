"""A job from accepted to back: running once gear goes out for it, back when a person says that all has come home."""

from __future__ import annotations

from django.db import transaction
from django.db.models import Q

from inventory.models import Docket
from jobs.errors import Refused
from jobs.models import Job
from jobs.selectors.job_page import on_site


def gear_goes_out(job: Job) -> None:
    """Marks an accepted job as running. Nothing to do for one that runs already."""
    Job.objects.filter(pk=job.pk, stage=Job.Stage.ACCEPTED).update(stage=Job.Stage.RUNNING)


@transaction.atomic
def all_is_back(*, job: Job) -> Job:
    """Ends a job whose gear is home; what it had reserved is free. Raises Refused: "not-running", "gear-there",
    "dockets-open"."""
    job = Job.objects.select_for_update().get(pk=job.pk)
    if job.stage not in {Job.Stage.ACCEPTED, Job.Stage.RUNNING}:
        raise Refused("not-running", f"This job is {job.stage}: only a job under way can come back.")
    there = sum(row.count for row in on_site(job))
    if there:
        raise Refused(
            "gear-there",
            f"{there} tagged pieces are still on its site by the record: bring them back, send them on, or settle "
            "what is lost.",
        )
    _refuse_open_dockets(job)
    return _stage(job, Job.Stage.BACK)


@transaction.atomic
def open_again(*, job: Job) -> Job:
    """Back was said too early. Raises Refused: "not-back"."""
    job = Job.objects.select_for_update().get(pk=job.pk)
    if job.stage != Job.Stage.BACK:
        raise Refused("not-back", f"This job is {job.stage}: it need not be opened again.")
    return _stage(job, Job.Stage.RUNNING)


def _refuse_open_dockets(job: Job) -> None:
    open_ones = Docket.objects.open().filter(Q(from_place=job.site) | Q(to_place=job.site))
    numbers = list(open_ones.values_list("number", flat=True)[:5])
    if numbers:
        raise Refused("dockets-open", f"Close or cancel its dockets first: {', '.join(numbers)}.")


def _stage(job: Job, stage: Job.Stage) -> Job:
    job.stage = stage
    job.save(update_fields=["stage"])
    return job
