"""The planner's pages, pressed as a planner would."""

from __future__ import annotations

from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from jobs.models import Customer, Job, TakeOffRule
from tests.jobs import build

pytestmark = pytest.mark.django_db

SCHEDULE = b"""mark,width,height,thickness,stack,level,pour date,quantity
A1,6000,3000,150,S,1,2027-03-05,
A2,6000,3000,150,S,2,2027-03-10,
B,4000,3000,150,,,2027-03-11,2
"""


@pytest.fixture
def planner(client_as):
    return client_as("planner")


def send(client, job, content=SCHEDULE, name="schedule.csv"):
    url = reverse("job-schedule", args=[job.pk])
    return client.post(url, {"file": SimpleUploadedFile(name, content)}, follow=True)


def test_a_customer_and_a_job_are_entered(planner):
    planner.post(reverse("customer-new"), {"code": "C7", "name": "Slab and Sons"})
    said = {
        "code": "J7",
        "name": "Store",
        "customer": Customer.objects.get(code="C7").pk,
        "yard": build.yard().pk,
        "starts_on": "2027-03-01",
        "max_overrun_mm": 900,
        "cure_hours": 20,
    }
    page = planner.post(reverse("job-new"), said, follow=True)
    job = Job.objects.get(code="J7")
    assert job.site.kind == "site" and job.stage == Job.Stage.ASKED
    assert "Bring in its panel schedule" in page.content.decode()


def test_a_second_job_of_one_code_is_refused_in_words(planner):
    job = build.job()
    said = {
        "code": job.code,
        "name": "Again",
        "customer": job.customer_id,
        "yard": job.yard_id,
        "starts_on": "2027-03-01",
        "max_overrun_mm": 900,
        "cure_hours": 20,
    }
    page = planner.post(reverse("job-new"), said)
    assert page.status_code == 200 and "already exists" in page.content.decode()


def test_a_schedule_is_looked_at_then_taken(planner):
    job = build.job()
    look = send(planner, job)
    assert "4 new, 0 changed, 0 the same" in look.content.decode()
    assert job.panels.count() == 0
    taken = planner.post(reverse("job-schedule-preview", args=[job.pk]), {"press": "take"}, follow=True)
    assert job.panels.count() == 4
    page = taken.content.decode()
    assert ">4 panels</a>" in page and ">3 pours</a>" in page


def test_a_schedule_dropped_leaves_nothing(planner):
    job = build.job()
    send(planner, job)
    planner.post(reverse("job-schedule-preview", args=[job.pk]), {"press": "drop"})
    assert job.panels.count() == 0
    again = planner.get(reverse("job-schedule-preview", args=[job.pk]), follow=True)
    assert "There is no schedule to look at" in again.content.decode()


def test_a_faulty_cell_is_marked_in_place_with_what_to_do(planner):
    job = build.job()
    page = send(planner, job, SCHEDULE.replace(b"4000,3000", b"4 m,3000")).content.decode()
    assert '<td class="faulty">4 m' in page and "Give a width in mm" in page
    assert 'value="take"' not in page


def test_a_file_that_is_no_schedule_says_so_on_the_form(planner):
    page = send(planner, build.job(), b"nonsense", "plan.xlsx").content.decode()
    assert "The workbook cannot be opened" in page


def test_the_job_page_shows_what_the_plan_must_flag(planner):
    job = build.job_with(
        build.row("A1", stack="S", level=1), build.row("A2", width=5000, stack="S", level=2, pour="P2")
    )
    page = planner.get(reverse("job", args=[job.pk])).content.decode()
    assert "step" in page and "before panel A1 below it is stripped" in page


def test_a_large_job_shows_its_next_pours_and_the_rest_by_lists_and_looks_through_its_panels_after(
    planner, monkeypatch
):
    monkeypatch.setattr("jobs.views.jobs.AT_ONCE", 3)
    monkeypatch.setattr("jobs.views.jobs.SHOWN_POURS", 2)
    monkeypatch.setattr("jobs.selectors.job_page.SHOWN_PANELS", 1)
    rows = [
        build.row("A1", stack="S", level=1),
        build.row("B1"),
        build.row("A2", width=5000, stack="S", level=2, pour="P2"),
    ]
    job = build.job_with(*rows, build.row("C1", pour="P3"))
    page = planner.get(reverse("job", args=[job.pk])).content.decode()
    assert "The next 2 of 3" in page and "1 more" in page and "before panel A1" not in page
    flags = reverse("job-flags", args=[job.pk])
    assert f'hx-get="{flags}"' in page
    part = planner.get(flags, headers={"HX-Request": "true"}).content.decode()
    assert "before panel A1" in part and "<html" not in part
    pours = planner.get(reverse("job-pours", args=[job.pk]), {"q": "A2"}).content.decode()
    assert "1 row" in pours and "P2" in pours
    panels = planner.get(reverse("job-panels", args=[job.pk]), {"level": 2, "state": "to cast"}).content.decode()
    assert "1 row" in panels and ">A2</a>" in panels
    sheet = planner.get(reverse("job-panels", args=[job.pk]), {"export": "csv"}).getvalue().decode().splitlines()
    assert len(sheet) == 5 and "5000 x 3000" in "".join(sheet)


def test_the_cut_list_lists_runs_and_the_panel_is_drawn(planner):
    job = build.job_with(build.row("A1"))
    page = planner.get(reverse("job-cut-list", args=[job.pk])).content.decode()
    assert "18.0 m" in page and "corner clamp" in page
    drawn = planner.get(reverse("panel", args=[job.panels.get().pk])).content.decode()
    assert "<svg" in drawn and "not composed yet" in drawn


def test_a_move_is_seen_before_it_is_made(planner):
    job = build.job()
    send(planner, job)
    planner.post(reverse("job-schedule-preview", args=[job.pk]), {"press": "take"})
    pour = job.pours.get(cast_on=date(2027, 3, 5))
    url = reverse("pour-move", args=[pour.pk])
    shown = planner.get(url, {"cast_on": "2027-03-12"}).content.decode()
    assert "Move 2 pours" in shown
    assert "is past" in planner.get(url, {"cast_on": "2026-03-12"}).content.decode()
    pour.refresh_from_db()
    assert pour.cast_on == date(2027, 3, 5)
    planner.post(url, {"cast_on": "2027-03-12"})
    assert sorted(job.pours.values_list("cast_on", flat=True)) == [
        date(2027, 3, 11),
        date(2027, 3, 12),
        date(2027, 3, 17),
    ]


def test_only_the_manager_changes_a_rule_and_a_rule_must_hold_together(client_as):
    rule = TakeOffRule.objects.get(what="corner clamp")
    said = {
        "name": rule.name,
        "what": rule.what,
        "per": rule.per,
        "levels": rule.levels,
        "quantity": "1.5",
        "clear_of_joint_mm": 50,
        "least": 2,
        "spare_percent": 0,
    }
    url = reverse("take-off-rule", args=[rule.pk])
    assert client_as("planner").post(url, said).status_code == 403
    manager = client_as("manager")
    assert "Give a whole quantity" in manager.post(url, said).content.decode()
    manager.post(url, said | {"quantity": "2"})
    rule.refresh_from_db()
    assert rule.quantity == 2
