import datetime as dt
import os
import subprocess
import sys

import pytest
from django.utils import timezone
from django_tasks import task
from django_tasks_db.models import DBTaskResult

from inventory.errors import Refused
from inventory.models import WorkerBeat
from inventory.models.work import LongWork
from inventory.selectors.health import health_now
from inventory.services import work
from tests.factories import CoverCheckFactory

pytestmark = pytest.mark.django_db
State = LongWork.State


@task
def nothing_much():
    return "done"


def ago(seconds):
    return timezone.now() - dt.timedelta(seconds=seconds)


def test_work_is_taken_up_once():
    check = CoverCheckFactory()
    assert work.begin(check)
    assert not work.begin(type(check).objects.get(pk=check.pk))


def test_a_beat_says_how_far_it_is():
    check = CoverCheckFactory()
    work.begin(check)
    work.beat(check, 40, "composing runs")
    assert (check.progress, check.stage_words) == (40, "composing runs")


def test_waiting_work_is_cancelled_at_once():
    check = CoverCheckFactory()
    work.ask_to_cancel(check)
    assert check.state == State.CANCELLED
    assert not work.begin(check)


def test_working_work_stops_at_its_next_beat():
    check = CoverCheckFactory()
    work.begin(check)
    work.ask_to_cancel(type(check).objects.get(pk=check.pk))
    with pytest.raises(work.WorkCancelled):
        work.beat(check)


def test_an_answer_that_comes_after_the_end_is_dropped():
    check = CoverCheckFactory()
    work.begin(check)
    work.failed(check, "The check broke off.")
    assert not work.answered(check, covered=True)
    assert (check.state, check.covered) == (State.FAILED, None)


def test_what_is_over_cannot_be_cancelled():
    check = CoverCheckFactory()
    work.begin(check)
    work.answered(check, covered=True)
    with pytest.raises(Refused, match="over already"):
        work.ask_to_cancel(check)


def test_the_work_of_a_dead_worker_is_failed_with_a_sentence():
    check = CoverCheckFactory(state=State.WORKING, beat_at=ago(work.WORK_SILENT_SECONDS + 1))
    alive = CoverCheckFactory(state=State.WORKING, beat_at=ago(1))
    assert work.end_abandoned() == 1
    check.refresh_from_db()
    alive.refresh_from_db()
    assert (check.state, alive.state) == (State.FAILED, State.WORKING)
    assert "ask again" in check.failure


def test_a_task_left_running_by_a_dead_worker_is_failed_and_a_living_ones_is_not():
    for name, beat in (("dead", ago(work.SILENT_SECONDS + 1)), ("living", ago(1))):
        result = nothing_much.enqueue()
        DBTaskResult.objects.get(pk=result.id).claim(name)
        work.record_beat(name, at=beat)
    work.end_abandoned()
    states = {row.worker_ids[0]: row.status for row in DBTaskResult.objects.all()}
    assert states == {"dead": "FAILED", "living": "RUNNING"}
    assert list(WorkerBeat.objects.values_list("worker", flat=True)) == ["living"]


def test_health_needs_a_worker(client):
    assert client.get("/health").status_code == 503
    work.record_beat("one")
    answer = client.get("/health")
    assert answer.status_code == 200
    assert answer.json() == {
        "well": True,
        "database": "answers",
        "migrations": "current",
        "worker": "alive",
        "worker_beat_seconds_ago": 0,
        "oldest_waiting_task_seconds": None,
    }


def test_health_is_not_well_when_work_piles_up():
    work.record_beat("one")
    result = nothing_much.enqueue()
    DBTaskResult.objects.filter(pk=result.id).update(enqueued_at=ago(16 * 60))
    report = health_now()
    assert report["well"] is False
    assert report["oldest_waiting_task_seconds"] >= 960


# One process asks and looks at what became of it; the worker is another.
ASK_AND_LOOK = """
import subprocess, sys
from django_tasks_db.models import DBTaskResult
from inventory.models import WorkerBeat
from tests.foundation.test_long_work import nothing_much
nothing_much.enqueue()
subprocess.run([sys.executable, "manage.py", "work", "--batch"], check=True, stdout=subprocess.DEVNULL)
print(DBTaskResult.objects.get().status, WorkerBeat.objects.count())
"""


@pytest.mark.slow
def test_the_worker_runs_what_waits_and_signs_off(own_database):
    environment = os.environ | {"POURBACK_DATABASE_URL": own_database}
    asked = subprocess.run(
        [sys.executable, "manage.py", "shell", "-v0", "-c", ASK_AND_LOOK],
        env=environment, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert asked.stdout.strip() == "SUCCESSFUL 0"
