import pytest
from django.test import Client, RequestFactory
from django.urls import include, path

from inventory.views import errors
from inventory.views.access import public


@public
def breaks(request):
    raise RuntimeError("on purpose")


class Urls:
    urlpatterns = [path("breaks/", breaks), path("", include("config.urls"))]
    handler500 = "inventory.views.errors.server_error"


@pytest.mark.django_db
def test_a_missing_page_says_what_to_do_instead(client_as):
    answer = client_as("hand").get("/no-such-page/")
    assert answer.status_code == 404
    assert "by its code instead" in answer.content.decode()


def test_a_break_is_our_own_page_and_needs_no_database(settings):
    settings.ROOT_URLCONF = Urls
    answer = Client(raise_request_exception=False).get("/breaks/")
    assert answer.status_code == 500
    assert "not yours" in answer.content.decode()


def test_a_break_is_told_in_plain_words_when_the_page_for_it_breaks_too(settings):
    settings.STORAGES = settings.STORAGES | {"staticfiles": {"BACKEND": "config.static_names.HashedStatic"}}
    answer = errors.server_error(RequestFactory().get("/"))
    assert answer.status_code == 500
    assert answer.content.decode().startswith("Something broke here")


@pytest.mark.parametrize(
    ("view", "status"), [(errors.bad_request, 400), (errors.forbidden, 403), (errors.not_found, 404)]
)
def test_every_refusal_is_a_page_of_our_own(view, status):
    answer = view(RequestFactory().get("/"), Exception())
    assert answer.status_code == status
    assert "Back to your board" in answer.content.decode()


@pytest.mark.django_db
def test_a_form_from_before_signing_in_again_is_refused_with_a_sentence():
    answer = Client(enforce_csrf_checks=True).post("/sign-in/", {"username": "ash", "password": "x"})
    assert answer.status_code == 403
    assert "out of date" in answer.content.decode()


@pytest.mark.django_db
def test_the_browser_is_told_what_the_page_may_do(client):
    answer = client.get("/sign-in/")
    policy = answer.headers["Content-Security-Policy"]
    assert "unsafe-inline" not in policy
    assert "'unsafe-eval'" not in policy
    assert "camera=(self)" in answer.headers["Permissions-Policy"]
    assert answer.headers["X-Frame-Options"] == "DENY"
