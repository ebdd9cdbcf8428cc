"""Driven by the URL configuration, so that a new page cannot be forgotten."""

import html
import re
from functools import cache
from urllib.parse import urljoin, urlsplit

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import Resolver404, resolve

from inventory.models.roles import Role
from tests import pages

pytestmark = pytest.mark.django_db

# The most a page may ask the database, signing in and roles included.
MOST_QUERIES = 30
# The manager's pages are all there are but a few: whom the others let in does not hang on the database.
EACH_ROLE = [role if role == Role.MANAGER else pytest.param(role, marks=pytest.mark.one_database) for role in Role]


def is_public(page):
    return is_public_view(page.view)


def is_public_view(view):
    return getattr(view, "is_public", False)


def is_html(answer):
    return answer.status_code == 200 and answer.headers.get("Content-Type", "").startswith("text/html")


def refused(answer):
    return answer.status_code == 403


def get(client, page):
    return _undone(lambda: client.get(page.path))


def post(client, page):
    return _undone(lambda: client.post(page.path))


def _undone(press):
    """What one press changes must not spoil the next."""
    with transaction.atomic():
        answer = press()
        if answer.streaming:
            b"".join(answer.streaming_content)  # read to its end, as a browser would; closing it early ends the session
        transaction.set_rollback(True)
    return answer


@pytest.mark.parametrize("role", EACH_ROLE)
def test_each_role_opens_its_pages_and_no_others(role, client_as, small_yard):
    client, wrong = client_as(role), []
    for page in pages.every_page(small_yard):
        if is_public(page) or getattr(page.view, "any_account", False):
            continue
        answer = get(client, page)
        if refused(answer) is (role in page.view.allowed_roles) or answer.status_code >= 500:
            wrong.append(f"{role} {page.name} {page.path}: {answer.status_code}")
        if is_html(answer):
            wrong += [f"{role} {page.path} offers {to}" for to in offered(answer, page) if not leads(to, role)]
    assert wrong == []


LINK = re.compile(r'<a\b[^>]*?\bhref="([^"]*)"')
POST = re.compile(r'<form\b(?=[^>]*?\bmethod="post")([^>]*)>')
ACTION = re.compile(r'\baction="([^"]*)"')


def offered(answer, page):
    """("allowed" or "write", path) of each link and each form, within these pages."""
    words = answer.content.decode()
    forms = [action[1] if (action := ACTION.search(form)) else "" for form in POST.findall(words)]
    for needs, found in (("allowed", LINK.findall(words)), ("write", forms)):
        for href in {html.unescape(each) for each in found}:
            to = urlsplit(urljoin(page.path, href))
            if not to.netloc and to.scheme in ("", "http", "https") and not to.path.startswith("/static/"):
                yield needs, to.path


def leads(offer, role):
    """Whether a link or form leads this role anywhere but to a refusal."""
    needs, path = offer
    view = _view_at(path)
    return view is not None and (is_public_view(view) or role in getattr(view, f"{needs}_roles", ()))


@cache  # the same few hundred links stand on every page
def _view_at(path):
    try:
        return resolve(path).func
    except Resolver404:
        return None


@pytest.mark.parametrize("role", EACH_ROLE)
def test_each_role_writes_where_it_may_and_nowhere_else(role, client_as, small_yard):
    """An empty form may be refused in many ways; it must never break the server, nor be let in for another role."""
    client, wrong = client_as(role), []
    for page in pages.every_page(small_yard):
        if is_public(page) or getattr(page.view, "any_account", False):
            continue
        answer = post(client, page)
        if refused(answer) is (role in page.view.write_roles) or answer.status_code >= 500:
            wrong.append(f"{role} {page.name} {page.path}: {answer.status_code}")
    assert wrong == []


def test_an_account_without_a_role_opens_only_what_any_account_may(client_as, small_yard):
    client = client_as()
    for page in pages.every_page(small_yard):
        if not is_public(page):
            open_to_it = getattr(page.view, "any_account", False)
            assert refused(get(client, page)) is not open_to_it, page.name


def test_a_stranger_sees_public_pages_only(small_yard):
    client = Client()
    for page in pages.every_page(small_yard):
        for answer in (get(client, page), post(client, page)):
            if is_public(page):
                assert answer.status_code < 500 or page.name == "health", page.name
            else:
                assert answer.status_code in {302, 401}, page.name
                assert answer.status_code == 401 or answer.url.startswith("/sign-in/"), page.name


def test_nobody_but_staff_gets_into_the_admin(client_as):
    for role in Role:
        assert client_as(role).get("/admin/").status_code == 302


def test_no_page_asks_more_of_the_database_as_the_yard_grows(client_as, small_yard):
    client = client_as(*Role)
    before = _queries(client, small_yard)
    pages.grow(small_yard, times=8)
    after = _queries(client, small_yard)
    grown = {name: (before[name], count) for name, count in after.items() if count > before[name]}
    assert grown == {}
    assert {name: count for name, count in after.items() if count > MOST_QUERIES} == {}


def _queries(client, yard):
    counts = {}
    for page in pages.every_page(yard):
        if is_public(page):
            continue
        with CaptureQueriesContext(connection) as queries:
            answer = get(client, page)
        if is_html(answer):
            counts[page.name] = len(queries)
    return counts
