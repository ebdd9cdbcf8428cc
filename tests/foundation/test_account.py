import pytest
from django.test import Client

from tests.factories import PASSWORD, UserFactory

pytestmark = pytest.mark.django_db


def test_a_stranger_is_sent_to_sign_in():
    answer = Client().get("/")
    assert answer.status_code == 302
    assert answer.url.startswith("/sign-in/")


def test_signing_in_leads_to_the_board():
    UserFactory(username="ash", roles=["hand"])
    answer = Client().post("/sign-in/", {"username": "ash", "password": PASSWORD})
    assert (answer.status_code, answer.url) == (302, "/")


def test_a_wrong_password_says_so_beside_the_form():
    answer = Client().post("/sign-in/", {"username": "ash", "password": "no"})
    assert answer.status_code == 200
    assert "correct username and password" in answer.content.decode()


def test_too_many_wrong_passwords_pause_the_sign_in_with_a_sentence(settings):
    settings.AXES_ENABLED = True
    UserFactory(username="ash")
    client = Client()
    for _ in range(settings.AXES_FAILURE_LIMIT):
        answer = client.post("/sign-in/", {"username": "ash", "password": "no"})
    assert answer.status_code == 429
    assert "Wait 15 minutes" in answer.content.decode()
    right = client.post("/sign-in/", {"username": "ash", "password": PASSWORD})
    assert right.status_code == 429


def test_part_of_a_page_asked_for_signed_out_opens_the_sign_in_page_whole():
    answer = Client().get("/sign-in/", headers={"HX-Request": "true", "HX-Current-URL": "http://testserver/dockets/3/"})
    assert answer.headers["HX-Redirect"] == "/sign-in/?next=/dockets/3/"


def test_signing_out_needs_a_press(client_as):
    client = client_as("hand")
    assert client.get("/sign-out/").status_code == 405
    assert client.post("/sign-out/").status_code == 302
    assert client.get("/").status_code == 302


def test_a_password_is_changed_and_the_old_one_is_dead(client_as):
    client = client_as("hand")
    form = {"old_password": PASSWORD, "new_password1": "a longer one 73", "new_password2": "a longer one 73"}
    assert client.post("/account/password/", form).status_code == 302
    name = client.get("/account/password/").context["request"].user.username
    assert Client().login(username=name, password="a longer one 73")
    assert not Client().login(username=name, password=PASSWORD)


def test_an_account_without_a_role_is_told_what_to_ask_for(client_as):
    assert "Ask the yard manager" in client_as().get("/").content.decode()


def test_the_admin_uses_the_same_sign_in():
    answer = Client().get("/admin/login/?next=/admin/")
    assert answer.url == "/sign-in/?next=/admin/"
