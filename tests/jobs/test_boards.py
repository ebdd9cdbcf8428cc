"""Each role lands on what it must do next."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.lifecycle.kinds import Fitness, Standing
from inventory.models import Piece, Place
from jobs.selectors import boards
from tests import factories


@pytest.fixture
def job(db):
    today = timezone.localdate()
    job = factories.JobFactory(stage="running", starts_on=today - timedelta(days=40), ends_on=today - timedelta(days=2))
    for fitness in (Fitness.SOUND, Fitness.UNFIT):
        factories.TagFactory(piece__place=job.site, piece__fitness=fitness)
    pour = Place.objects.create(name="A pour", kind="pour", parent=job.site)
    factories.TagFactory(piece__place=pour)
    Piece.objects.update(standing=Standing.HELD)
    return job


def page(client_as, role):
    return client_as(role).get(reverse("board")).content.decode()


def test_gear_in_a_pour_counts_as_out_on_its_site(job):
    (out,) = boards.out_by_job()
    assert (out.job, out.pieces, out.unfit) == (job, 3, 1)
    assert out.is_overdue(timezone.localdate())


def test_the_manager_is_told_what_is_out_overdue_and_unfit(client_as, job):
    said = page(client_as, "manager")
    assert "3 pieces are out" in said
    assert "1 overdue" in said
    assert "overdue</span>" in said


def test_a_case_of_many_pieces_is_one_decision_on_the_board_and_in_the_list(client_as, db):
    event = factories.EventFactory()
    factories.ReviewItemFactory.create_batch(3, event=event)
    factories.ReviewItemFactory()
    assert boards.yard_counts([]).in_review == 2
    assert "2 rows" in client_as("manager").get(reverse("review")).content.decode()


def test_a_new_yard_is_led_through_what_to_set_up(client_as, db):
    assert [step.done for step in boards.first_steps()] == [False] * 6
    factories.PlaceFactory(kind="yard")
    assert [step.done for step in boards.first_steps()] == [False, True, False, False, False, False]
    assert "A new yard begins here" in page(client_as, "manager")
    factories.PieceFactory()
    assert "A new yard begins here" not in page(client_as, "manager")


def test_the_hand_is_asked_what_it_is_doing(client_as, db):
    assert "What are you doing?" in page(client_as, "hand")


def test_the_site_lead_sees_the_pours(client_as, db):
    assert "to cast today" in page(client_as, "site lead")


def test_the_planner_sees_jobs_asked_and_whether_they_are_covered(client_as, db):
    asked = factories.JobFactory(stage="asked")
    assert "no panels yet" in page(client_as, "planner")
    factories.PanelFactory(pour__job=asked)
    assert "not checked" in page(client_as, "planner")
    factories.CoverCheckFactory(job=asked, state="answered", covered=False)
    assert "short</span>" in page(client_as, "planner")


def test_the_hire_desk_sees_what_each_customer_has(client_as, job):
    said = page(client_as, "hire desk")
    assert "1 customer has" in said
    assert job.customer.name in said


def test_somebody_without_a_role_is_told_whom_to_ask(client_as, db):
    assert "Ask the yard manager" in client_as().get(reverse("board")).content.decode()
