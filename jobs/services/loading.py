"""From a load list to the docket of its truck."""

from __future__ import annotations

from django.db import transaction

from inventory.models import Docket, Person
from inventory.services.dockets import open_docket
from jobs.errors import Refused
from jobs.models import Delivery, Job
from jobs.services.stages import gear_goes_out


@transaction.atomic
def open_delivery_docket(*, delivery: Delivery, by: Person) -> Docket:
    """The docket that loads this delivery, with its wanted lines; back to the yard for a planned return."""
    delivery = Delivery.objects.select_for_update().get(pk=delivery.pk)
    job = delivery.job
    if delivery.docket_id:
        raise Refused("docket-open", "This truck has its docket already: open that one.")
    if job.stage not in {Job.Stage.ACCEPTED, Job.Stage.RUNNING}:
        raise Refused("not-accepted", "Accept the job first: only then is its gear reserved for it.")
    ends = (job.site, job.yard) if delivery.is_return else (job.yard, job.site)
    wanted = dict(delivery.lines.values_list("type", "quantity"))
    delivery.docket = open_docket(
        from_place=ends[0], to_place=ends[1], by=by, wanted=wanted, planned_on=delivery.load_on
    )
    delivery.save(update_fields=["docket"])
    gear_goes_out(job)
    return delivery.docket
