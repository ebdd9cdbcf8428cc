"""From a load list to the docket of its truck."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from inventory.models import Docket, Person
from inventory.services.dockets import open_docket
from jobs.errors import Refused
from jobs.models import Delivery, Job, LoadLine
from jobs.selectors.behind import left_behind
from jobs.selectors.cutlist import cut_list
from jobs.selectors.loads import article_loads, left_off
from jobs.selectors.planned import lengths_planned
from jobs.selectors.pours import job_calendar
from jobs.services.stages import gear_goes_out


@transaction.atomic
def open_delivery_docket(*, delivery: Delivery, by: Person) -> Docket:
    """The docket that loads this delivery, with its wanted lines; back to the yard for a planned return."""
    delivery = Delivery.objects.select_for_update(of=("self",)).select_related("docket").get(pk=delivery.pk)
    job = delivery.job
    if not delivery.wants_docket:
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


@transaction.atomic
def put_on_trucks(*, job: Job, today: date) -> int:
    """Puts what no truck carries, and has a type by now, onto trucks that have no docket yet; and what trucks left
    without. How many articles."""
    job = Job.objects.select_for_update().get(pk=job.pk)
    cut, calendar = cut_list(job, lengths_planned(job)), job_calendar(job)
    missing = {item.type.code: item.type for item in left_off(job, cut, today) if item.type is not None}
    trucks = {truck.load_on: truck for truck in job.deliveries.filter(is_return=False, docket=None)}
    for day, counts in article_loads(job, cut, set(trucks), calendar, today).items():
        for code in counts.keys() & missing.keys():
            if day not in trucks:
                trucks[day] = Delivery.objects.create(job=job, load_on=day)
            LoadLine.objects.create(delivery=trucks[day], type=missing[code], quantity=counts[code])
    return len(missing) + _send_after(job, today)


def _send_after(job: Job, today: date) -> int:
    """What trucks left without goes from their lists to those of trucks of the same day, or of today where it is past:
    a later one may come after the gear is needed. So nothing is reserved twice."""
    behind = left_behind(job)
    for each in behind:
        day = max(today, each.delivery.load_on)
        truck = job.deliveries.filter(is_return=False, docket=None, load_on=day).first()
        truck = truck or Delivery.objects.create(job=job, load_on=day)
        line, _ = LoadLine.objects.get_or_create(delivery=truck, type=each.type, defaults={"quantity": 0})
        line.quantity += each.count
        line.save(update_fields=["quantity"])
        each.line.quantity -= each.count
        if each.line.quantity:
            each.line.save(update_fields=["quantity"])
        else:
            each.line.delete()
    return len({each.type.pk for each in behind})
