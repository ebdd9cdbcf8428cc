"""A real Chromium, in two ways.

`looker(client, width)` shows pages answered by Django's test client in this process, inside the test's transaction:
quick, for looking at every page. `page_as("hand", width=360)` opens a page of a running server (live_server), for
everything that presses, scans, waits or goes offline.
"""

from __future__ import annotations

import contextvars
import mimetypes
import os
import shutil
import tempfile
from functools import cache
from pathlib import Path
from threading import Condition, RLock
from typing import Any
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.handlers.wsgi import WSGIHandler
from django.core.signals import request_finished, request_started
from django.test import Client
from playwright.sync_api import BrowserContext, Page, Request, Route, sync_playwright

from tests.environment import ENGINE

FLAGS = [
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
HOST = "http://pourback.localhost"  # trusted by browsers like localhost itself
DESK, PHONE = 1280, 360


class InFlight:
    """Requests that a server is still answering. Its threads outlive the page that asked, and on SQLite they share one
    connection with the test: what a test counts, and what is cleared away after it, must not meet them there."""

    def __init__(self) -> None:
        self.many, self.changed = 0, Condition()
        request_started.connect(self._started)
        request_finished.connect(self._finished)

    def _started(self, sender: Any, **_: Any) -> None:
        self._count(sender, 1)

    def _finished(self, sender: Any, **_: Any) -> None:
        self._count(sender, -1)

    def _count(self, sender: Any, more: int) -> None:
        if isinstance(sender, type) and issubclass(sender, WSGIHandler):  # and not the test client
            with self.changed:
                self.many += more
                self.changed.notify_all()

    def wait(self) -> None:
        with self.changed:
            assert self.changed.wait_for(lambda: self.many == 0, 60), "a request is never answered"


IN_FLIGHT = InFlight()


@pytest.fixture(scope="session", autouse=True)
def _one_request_at_a_time_on_one_connection():
    """SQLite in memory is one connection for all threads of a server, so that the transaction of one request would be
    ended or rolled back by another's: a page that asks two things at once would be told 500 now and then."""
    if ENGINE != "sqlite":
        yield
        return
    answer, turn = WSGIHandler.get_response, RLock()

    def in_turn(handler: WSGIHandler, request: Any) -> Any:
        with turn:
            return answer(handler, request)

    WSGIHandler.get_response = in_turn
    yield
    WSGIHandler.get_response = answer


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)
            if "the_whole_walk" not in item.name:  # which goes through all the services
                item.add_marker(pytest.mark.one_database)


@pytest.fixture(scope="session")
def chromium_path() -> str:
    names = (os.environ.get("POURBACK_CHROMIUM", ""), "chromium", "chromium-browser", "google-chrome")
    found = next((path for name in names if name and (path := shutil.which(name))), None)
    if found is None:
        pytest.skip("NO CHROMIUM: no page was looked at. Install Debian's chromium, or name one in POURBACK_CHROMIUM.")
    return found


@pytest.fixture(scope="session")
def playwright():
    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="session")
def browser(playwright, chromium_path):
    browser = playwright.chromium.launch(executable_path=chromium_path, headless=True, args=FLAGS)
    yield browser
    browser.close()


@pytest.fixture
def new_profile(playwright, chromium_path):
    """new_profile(*more_flags, **options): a browser with a profile of its own, for service workers and cameras."""
    opened: list[BrowserContext] = []
    folders: list[str] = []

    def make(*flags: str, **options) -> BrowserContext:
        folders.append(tempfile.mkdtemp(prefix="pourback-profile-"))
        options = {"executable_path": chromium_path, "headless": True, "args": [*FLAGS, *flags]} | options
        opened.append(playwright.chromium.launch_persistent_context(folders[-1], **options))
        return opened[-1]

    yield make
    for context in opened:
        context.close()
    IN_FLIGHT.wait()
    for folder in folders:
        shutil.rmtree(folder, ignore_errors=True)


def size(width: int) -> dict[str, int]:
    return {"width": width, "height": 780 if width < 800 else 900}


@pytest.fixture
def page_as(browser, transactional_db, live_server):
    """page_as("hand", width=360): a page of the running server, signed in with these roles (none: signed out)."""
    from tests.factories import UserFactory

    contexts: list[BrowserContext] = []

    def make(*roles: str, width: int = DESK, user=None, **options) -> Page:
        context = browser.new_context(viewport=size(width), base_url=live_server.url, **options)
        contexts.append(context)
        if roles or user:
            context.add_cookies([session_cookie(user or UserFactory(roles=roles), live_server.url)])
        return context.new_page()

    yield make
    for context in contexts:
        context.close()
    IN_FLIGHT.wait()


def session_cookie(user, url: str) -> dict[str, str]:
    client = Client()
    client.force_login(user)
    return {
        "name": settings.SESSION_COOKIE_NAME,
        "value": client.cookies[settings.SESSION_COOKIE_NAME].value,
        "url": url,
    }


@pytest.fixture
def looker(browser, db):
    """looker(client, width=1280): a page at HOST whose every request the test client answers. Nothing leaves here.

    The page keeps what went wrong in `page.faults`: script errors, refusals by the content security policy, and
    requests for anything that is not ours. An answer put into `page.had` under its path is given the first time that
    path is asked for, so that whoever has asked the client already need not have it answer again.
    """
    contexts: list[BrowserContext] = []
    # Playwright answers in a greenlet of its own, where Django would open another connection: hand it this one.
    here = contextvars.copy_context()

    def make(client: Client, width: int = DESK) -> Page:
        context = browser.new_context(viewport=size(width), base_url=HOST)
        contexts.append(context)
        page = context.new_page()
        page.faults, page.had = [], {}
        context.route("**/*", lambda route: here.copy().run(_answer, route, client, page))
        page.on("pageerror", lambda error: page.faults.append(f"script: {error}"))
        page.on("console", lambda said: page.faults.append(said.text) if said.type == "error" else None)
        return page

    yield make
    for context in contexts:
        context.close()


def _answer(route: Route, client: Client, page: Page) -> None:
    url = urlsplit(route.request.url)
    if f"{url.scheme}://{url.netloc}" != HOST:
        page.faults.append(f"asked somebody else: {route.request.url}")
        route.abort()
    elif url.path.startswith("/static/"):
        _static(route, url.path.removeprefix("/static/"), page.faults)
    elif route.request.method == "GET" and (had := page.had.pop(url.path, None)) is not None and not url.query:
        _fulfil(route, had)
    else:
        _fulfil(route, _asked(route.request, client, url.path, url.query))


def _static(route: Route, name: str, faults: list[str]) -> None:
    body = _static_file(name)
    if body is None:
        faults.append(f"no such static file: {name}")
        route.fulfill(status=404)
    else:
        route.fulfill(body=body, content_type=mimetypes.guess_type(name)[0] or "application/octet-stream")


@cache
def _static_file(name: str) -> bytes | None:
    found = finders.find(name)
    return None if found is None else Path(found).read_bytes()


def _asked(asked: Request, client: Client, path: str, query: str) -> Any:
    kind = asked.headers.get("content-type", "application/octet-stream")
    return client.generic(
        asked.method,
        path,
        asked.post_data_buffer or b"",
        content_type=kind,
        QUERY_STRING=query,
        headers={name: value for name, value in asked.headers.items() if name.lower().startswith("hx-")},
    )


def _fulfil(route: Route, answer: Any) -> None:
    body = b"".join(answer.streaming_content) if answer.streaming else answer.content
    route.fulfill(status=answer.status_code, headers=dict(answer.headers), body=body)
