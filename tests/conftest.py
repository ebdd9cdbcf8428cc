"""What every test stands on: cheap settings, a way past the ledger's guard, and people with roles."""

from __future__ import annotations

import gc

import pytest
from django.db import transaction
from django.test import Client

from tests import snapshot
from tests.environment import ENGINE, ONCE, REFUSE_SKIPS

DATABASE = {"db", "transactional_db", "live_server", "django_db_setup"}


def pytest_configure() -> None:
    """Cheap passwords, plain static names and no lock-out: each is tested on its own where it matters."""
    from django.conf import settings

    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.STORAGES = settings.STORAGES | {
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    }
    settings.WHITENOISE_AUTOREFRESH = True
    settings.AXES_ENABLED = False
    snapshot.install()


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    """What is loaded by now stays for good: nobody need look for garbage among it."""
    gc.freeze()


def pytest_unconfigure(config: pytest.Config) -> None:
    if not hasattr(config, "workerinput"):  # the one process that outlives all others of the run
        snapshot.remove()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Where time is short (POURBACK_TEST_ONCE=1), what is the same whatever the database runs once, with SQLite."""
    if ONCE and ENGINE != "sqlite":
        config.hook.pytest_deselected(items=[item for item in items if _is_the_same(item)])
        items[:] = [item for item in items if not _is_the_same(item)]


def _is_the_same(item: pytest.Item) -> bool:
    """What says so of itself, and what touches no database."""
    reads = DATABASE & set(getattr(item, "fixturenames", ())) or item.get_closest_marker("django_db")
    return item.get_closest_marker("one_database") is not None or not reads


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo):
    """Where nothing may be missing (POURBACK_REFUSE_SKIPS=1), a skipped test is a failed one."""
    outcome = yield
    report = outcome.get_result()
    if REFUSE_SKIPS and report.skipped and not hasattr(report, "wasxfail"):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} may not be skipped here: {reason}"


@pytest.fixture(autouse=True)
def _guard_lets_the_flush_through(request: pytest.FixtureRequest):
    """The ledger's own triggers refuse the flush that ends a test with real commits, so they step aside for it.

    The flush runs post_migrate, which puts them back.
    """
    marker = request.node.get_closest_marker("django_db")
    real_commits = "transactional_db" in request.fixturenames or bool(marker and marker.kwargs.get("transaction"))
    if not real_commits:
        yield
        return
    request.getfixturevalue("transactional_db")
    yield
    from inventory.models import guard
    from jobs.models import bill_guard

    guard.remove()
    bill_guard.remove()


@pytest.fixture
def own_database(django_db_setup, tmp_path):
    """The URL of a migrated database for other processes."""
    with snapshot.database(tmp_path) as url:
        yield url


@pytest.fixture
def client_as(db):
    """client_as("manager") or client_as("hand", "planner"): a client signed in with these roles; none for no role."""
    from tests.factories import UserFactory

    def make(*roles: str) -> Client:
        client = Client()
        client.force_login(UserFactory(roles=roles))
        return client

    return make


@pytest.fixture(scope="module")
def small_yard(django_db_setup, django_db_blocker):
    """Built once for the tests of a module; each of them rolls back to it, and the module rolls back all of it."""
    from tests import pages

    with django_db_blocker.unblock(), transaction.atomic():
        yield pages.small_yard()
        transaction.set_rollback(True)
