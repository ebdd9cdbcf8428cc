"""A job runs once gear goes out for it, and is back only when the record agrees."""

import pytest
from django.urls import reverse

from inventory.models import Docket, Person
from jobs.errors import Refused
from jobs.models import Delivery, Job
from jobs.services.jobs import change_job
from jobs.services.loading import open_delivery_docket
from jobs.services.stages import all_is_back, gear_goes_out, open_again
from tests.jobs import build

pytestmark = pytest.mark.django_db


@pytest.fixture
def job():
    return change_job(job=build.job(), stage=Job.Stage.ACCEPTED)


def first_docket(job):
    delivery = Delivery.objects.create(job=job, load_on=job.starts_on)
    return open_delivery_docket(delivery=delivery, by=Person.objects.create(name="Planner"))


def stage(job):
    return Job.objects.get(pk=job.pk).stage


def test_opening_the_first_docket_makes_an_accepted_job_run(job):
    open_delivery_docket(
        delivery=Delivery.objects.create(job=job, load_on=job.starts_on), by=Person.objects.create(name="Planner")
    )
    assert stage(job) == Job.Stage.RUNNING


def test_gear_going_out_changes_no_job_that_is_only_asked_for():
    asked = build.job()
    gear_goes_out(asked)
    assert stage(asked) == Job.Stage.ASKED


def test_a_job_with_gear_on_its_site_is_not_back(job):
    build.pieces(build.form(3000), 2, job.site)
    with pytest.raises(Refused, match="2 tagged pieces are still on its site"):
        all_is_back(job=job)


def test_a_job_with_an_open_docket_is_not_back(job):
    docket = open_delivery_docket(
        delivery=Delivery.objects.create(job=job, load_on=job.starts_on), by=Person.objects.create(name="Planner")
    )
    with pytest.raises(Refused, match=docket.number):
        all_is_back(job=job)
    Docket.objects.update(cancelled_at=build.NOW)
    assert all_is_back(job=job).stage == Job.Stage.BACK


def test_a_job_said_to_be_back_too_early_is_opened_again(client_as, job):
    page = client_as("planner")
    page.post(reverse("job-end", args=[job.pk]), {"press": "back"})
    assert stage(job) == Job.Stage.BACK
    page.post(reverse("job-end", args=[job.pk]), {"press": "open again"})
    assert stage(job) == Job.Stage.RUNNING


def test_a_job_that_never_ran_can_neither_end_nor_be_opened_again():
    asked = build.job()
    for press in (all_is_back, open_again):
        with pytest.raises(Refused):
            press(job=asked)
