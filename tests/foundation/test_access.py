import pytest
from django.http import HttpResponse
from django.test import RequestFactory
from django.urls import path
from django.views.generic import View

from inventory.models.roles import Role, roles_of
from inventory.views import access
from tests.factories import UserFactory


def _request(user, method="get"):
    request = getattr(RequestFactory(), method)("/somewhere/")
    request.user = user
    return request


@access.allow(Role.HAND, Role.MANAGER, write=[Role.MANAGER])
def page(request):
    return HttpResponse("the page")


@access.allow(Role.PLANNER)
class Page(View):
    def get(self, request):
        return HttpResponse("the page")


@pytest.mark.django_db
def test_a_named_role_may_look():
    assert page(_request(UserFactory(roles=["hand"]))).status_code == 200


@pytest.mark.django_db
def test_another_role_is_told_who_may():
    answer = page(_request(UserFactory(roles=["planner"])))
    assert answer.status_code == 403
    assert "the yard hand or the yard manager" in answer.content.decode()


@pytest.mark.django_db
def test_a_role_that_may_look_may_still_not_write():
    assert page(_request(UserFactory(roles=["hand"]), "post")).status_code == 403
    assert page(_request(UserFactory(roles=["manager"]), "post")).status_code == 200


@pytest.mark.django_db
def test_a_view_class_is_marked_like_a_function():
    view = Page.as_view()
    assert view.allowed_roles == {Role.PLANNER}
    assert view(_request(UserFactory(roles=["hand"]))).status_code == 403


@pytest.mark.django_db
def test_a_superuser_has_every_role_and_a_dormant_account_none():
    assert roles_of(UserFactory(is_superuser=True)) == set(Role)
    assert roles_of(UserFactory(roles=["hand"], is_active=False)) == set()


def test_writers_must_be_among_the_readers():
    with pytest.raises(ValueError):
        access.allow(Role.HAND, write=[Role.MANAGER])


def test_an_unmarked_view_fails_the_system_check(settings):
    class Urls:
        urlpatterns = [path("bare/", lambda request: HttpResponse()), path("marked/", page)]

    settings.ROOT_URLCONF = Urls
    errors = access.check_every_view_is_marked()
    assert [error.id for error in errors] == ["pourback.E001"]
    assert "/bare/" in errors[0].msg
