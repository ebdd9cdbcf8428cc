"""A running server that a test can stop and start again on the same port, and that can lose its own answers."""

from __future__ import annotations

from contextlib import closing

from django.contrib.staticfiles.handlers import StaticFilesHandler
from django.db import connections
from django.test.testcases import LiveServerThread, QuietWSGIRequestHandler

from tests.browser.conftest import IN_FLIGHT


class _Thread(LiveServerThread):
    def _create_server(self, connections_override=None):
        return self.server_class(
            (self.host, self.port),
            QuietWSGIRequestHandler,
            allow_reuse_address=True,  # the port of the server that was stopped
            connections_override=connections_override,
        )


class Server:
    """`lose` counts the batches still to be stored and then answered with 503; `down` cuts what is still connected."""

    def __init__(self) -> None:
        self.port, self.lose, self.lost, self.down = 0, 0, 0, True
        self.thread: _Thread | None = None

    @property
    def url(self) -> str:
        return f"http://localhost:{self.port}"

    def start(self) -> None:
        shared = {c.alias: c for c in connections.all() if c.vendor == "sqlite" and c.is_in_memory_db()}
        for connection in shared.values():
            connection.inc_thread_sharing()
        self.thread = _Thread("localhost", self._around, connections_override=shared, port=self.port)
        self.thread.daemon = True
        self.thread.start()
        self.thread.is_ready.wait()
        if self.thread.error:
            raise self.thread.error
        self.port, self.down = self.thread.port, False

    def stop(self) -> None:
        if self.thread is None:
            return
        self.down = True
        self.thread.terminate()
        IN_FLIGHT.wait()
        self.thread = None  # the connection stays shared: threads of connections that were kept alive end later

    def _around(self, application):
        inner = StaticFilesHandler(application)

        def answer(environ, start_response):
            if self.down:
                raise ConnectionAbortedError("the server was stopped")
            if environ["PATH_INFO"] != "/api/scans" or not self.lose:
                return inner(environ, start_response)
            self.lose -= 1
            self.lost += 1
            with closing(inner(environ, lambda *_: None)) as said:
                b"".join(said)
            start_response("503 Service Unavailable", [("Content-Type", "text/plain"), ("Content-Length", "0")])
            return [b""]

        return answer
