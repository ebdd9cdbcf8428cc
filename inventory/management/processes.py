"""Running the server and the worker side by side, and stopping both when one stops or somebody presses Ctrl-C."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import FrameType

from django.core.management.base import CommandError

GRACE_SECONDS = 10


@dataclass(frozen=True)
class Server:
    bind: str
    port: int
    certificate: str = ""
    key: str = ""
    workers: int = 2
    more: tuple[str, ...] = ()

    @property
    def command(self) -> list[str]:
        words = [sys.executable, "-m", "gunicorn", "config.wsgi", f"--bind={self.bind}:{self.port}"]
        words += [
            f"--workers={self.workers}",
            "--threads=4",
            "--preload",
            "--log-level=warning",
            "--graceful-timeout=8",
        ]
        if self.certificate:
            words += [f"--certfile={self.certificate}", f"--keyfile={self.key}"]
        return words + list(self.more)


def refuse_a_taken_port(bind: str, port: int) -> None:
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((bind, port))
        except OSError as error:
            raise CommandError(f"Port {port} is taken ({error.strerror}). Say another, such as PORT=9000.") from error


@dataclass
class SideBySide:
    """The children have sessions of their own, so that Ctrl-C reaches only this process, which stops them in order."""

    environment: Mapping[str, str]
    children: list[subprocess.Popen[bytes]] = field(default_factory=list)
    asked_to_stop: bool = False

    def start(self, command: list[str]) -> None:
        self.children.append(subprocess.Popen(command, env=dict(self.environment), start_new_session=True))

    def run(self, server: Server, ready: Callable[[], None]) -> int:
        """Until asked to stop (0) or until a child stops by itself (1)."""
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, self._stop_asked)
        try:
            self.start(server.command)
            self.start([sys.executable, "manage.py", "work"])
            if self._answers(server.port):
                ready()
            while not self.asked_to_stop and self._all_run():
                time.sleep(0.2)
        finally:
            self.stop()
        return 0 if self.asked_to_stop else 1

    def _stop_asked(self, _number: int, _frame: FrameType | None) -> None:
        self.asked_to_stop = True

    def _all_run(self) -> bool:
        return all(child.poll() is None for child in self.children)

    def _answers(self, port: int, patience_seconds: float = 60) -> bool:
        until = time.monotonic() + patience_seconds
        while time.monotonic() < until and self._all_run() and not self.asked_to_stop:
            with socket.socket() as probe:
                probe.settimeout(1)
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    return True
            time.sleep(0.1)
        return False

    def stop(self) -> None:
        for child in self.children:
            if child.poll() is None:
                child.send_signal(signal.SIGTERM)
        until = time.monotonic() + GRACE_SECONDS
        for child in self.children:
            try:
                child.wait(timeout=max(0.1, until - time.monotonic()))
            except subprocess.TimeoutExpired:
                os.killpg(child.pid, signal.SIGKILL)
                child.wait()
