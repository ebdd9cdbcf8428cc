"""A phone with a fake camera before a running server, for timings outside the test suite."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.browser.conftest import FLAGS, session_cookie
from tests.browser.film import Film
from tests.browser.stoppable import Server


@contextmanager
def camera_page(driver: Any, user: Any) -> Iterator[tuple[Any, Film]]:
    server = Server()
    server.start()
    with tempfile.TemporaryDirectory() as folder:
        film = Film(Path(folder))
        context = driver.chromium.launch_persistent_context(
            str(Path(folder, "profile")),
            executable_path="/usr/bin/chromium",
            args=[*FLAGS, *film.flags],
            base_url=server.url,
            viewport={"width": 360, "height": 640},
        )
        context.add_cookies([session_cookie(user, server.url)])
        try:
            yield context.pages[0], film
        finally:
            context.close()
            server.stop()
