"""The manager says who works here and as what; a person is forgotten without touching the ledger."""

import pytest

from inventory.errors import Refused
from inventory.models import Event, Person
from inventory.models.roles import Role, roles_of
from inventory.services.people import change_person, forget_person
from tests.factories import NOON, PASSWORD, EventFactory, PersonFactory, UserFactory

pytestmark = pytest.mark.django_db
NEW = {"name": "Ada Example", "username": "ada", "password": "quiet-gravel-77", "roles": ["hand", "planner"]}


def test_somebody_new_signs_in_as_what_the_manager_said(client_as, client):
    client_as("manager").post("/people/new/", NEW)
    assert client.login(username="ada", password=NEW["password"])
    person = Person.objects.get(name="Ada Example")
    assert roles_of(person.user) == {Role.HAND, Role.PLANNER}


@pytest.mark.parametrize("wrong", [{"password": "12345"}, {"roles": []}, {"name": ""}, {"username": "a b"}])
def test_what_cannot_be_is_said_on_the_form_and_nobody_is_added(client_as, wrong):
    page = client_as("manager").post("/people/new/", NEW | wrong)
    assert page.context["form"].errors and not Person.objects.filter(name="Ada Example").exists()


def test_a_sign_in_name_is_used_once_whatever_its_capitals(client_as):
    UserFactory(username="Ada")
    page = client_as("manager").post("/people/new/", NEW)
    assert "signs in as “ada” already" in page.content.decode()


def test_one_who_left_may_not_sign_in_and_a_new_password_holds(client_as, client):
    person = PersonFactory()
    said = {"name": person.name, "roles": ["hand"], "password": "other-gravel-88"}
    client_as("manager").post(f"/people/{person.pk}/", said)
    assert not client.login(username=person.user.username, password="other-gravel-88")
    client_as("manager").post(f"/people/{person.pk}/", said | {"may_sign_in": "on"})
    assert client.login(username=person.user.username, password="other-gravel-88")
    assert not client.login(username=person.user.username, password=PASSWORD)


def test_the_last_manager_can_neither_step_down_nor_be_forgotten():
    person = PersonFactory(user__roles=["manager"])
    for act in (
        lambda: change_person(person=person, name="X", roles=[Role.HAND], may_sign_in=True),
        lambda: change_person(person=person, name="X", roles=[Role.MANAGER], may_sign_in=False),
        lambda: forget_person(person=person, now=NOON),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert refused.value.code == "last-manager"


def test_the_owner_of_the_installation_is_not_changed_here():
    person = PersonFactory(user__is_superuser=True)
    with pytest.raises(Refused) as refused:
        change_person(person=person, name="X", roles=[Role.HAND], may_sign_in=True)
    assert refused.value.code == "owner"


def test_one_forgotten_keeps_their_events_which_name_nobody(client, client_as):
    person = PersonFactory(name="Ada Example")
    event, name = EventFactory(person=person), person.user.username
    client.force_login(person.user)
    client_as("manager").post(f"/people/{person.pk}/forget/")
    person.refresh_from_db()
    assert (person.name, person.user, Event.objects.get(pk=event.pk).person_id) == ("", None, person.pk)
    assert not client.login(username=name, password=PASSWORD)
    assert client.get("/pieces/").status_code == 302
