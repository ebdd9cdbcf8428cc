"""A second hand for a search, in a process of its own: python -m jobs.planning.beside, started by the first.

Threads of one process would slow each other. The process is given the sections to search on its standard input and
tells what it finds on its standard output; it ends when the first hand ends it, or when its standard input does:
never later than who started it. It knows nothing but this package. Where it cannot be started the first hand is alone.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import time
from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Thread
from typing import Any

from jobs.planning.limits import Limits
from jobs.planning.line import Line
from jobs.planning.model import Section
from jobs.planning.standing import News
from jobs.planning.team import Hand

_ROOT = Path(__file__).resolve().parents[2]
_WORTH_IT = 1_500
_LEAST_SECONDS = 1.0


@contextmanager
def second_hand(sections: Sequence[Section], ask: str, limits: Limits) -> Iterator[Line | None]:
    """The line to a second hand at work on the sections; None where it is not worth it, not wanted or not possible.

    It is only worth it by the clock: which of two hands finds a plan first may differ each time.
    """
    work = sum(len(group.choices) for section in sections for group in section.groups)
    started = None
    if work >= _WORTH_IT and _LEAST_SECONDS <= limits.left() < float("inf") and _processors() > 1:
        with suppress(OSError, ValueError):
            started = _started()
    if started is None:
        yield None
        return
    process, line = started
    try:
        with suppress(OSError):
            line.telling.send((list(sections), ask, limits.left(), time.time()))
        yield line
    finally:
        process.kill()
        process.wait()
        line.hearing.close()
        line.telling.close()


def _processors() -> int:
    """How many processors this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _started() -> tuple[subprocess.Popen[bytes], Line] | None:
    if not sys.executable:
        return None
    asked, asking = os.pipe()
    telling, told = os.pipe()
    try:
        command = [sys.executable, "-m", "jobs.planning.beside"]
        process = subprocess.Popen(command, stdin=asked, stdout=told, stderr=subprocess.DEVNULL, cwd=_ROOT)
    except OSError:
        os.close(asking)
        os.close(telling)
        raise
    finally:
        os.close(asked)
        os.close(told)
    return process, Line(Connection(telling, writable=False), Connection(asking, readable=False))


class _Heard(Line):
    """The second hand's end: a thread takes in what comes, so that the first never waits, and ends the process as
    soon as there is nobody at the other end."""

    def __init__(self, hearing: Connection[Any, Any], telling: Connection[Any, Any]) -> None:
        super().__init__(hearing, telling)
        self.waiting: deque[tuple[int, News]] = deque()
        Thread(target=self._take_in, daemon=True).start()

    def heard(self) -> Iterator[tuple[int, News]]:
        while self.waiting:
            yield self.waiting.popleft()

    def _take_in(self) -> None:
        try:
            while True:
                self.waiting.append(self.hearing.recv())
        except (EOFError, OSError, pickle.UnpicklingError):
            os._exit(0)


def main() -> None:
    """Be the second hand: read the sections, search, tell. What the solver prints goes nowhere."""
    telling = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    hearing = Connection(os.dup(0), writable=False)
    sections, ask, seconds, began = hearing.recv()
    line = _Heard(hearing, Connection(telling, readable=False))
    limits = Limits(seconds=max(0.0, seconds - (time.time() - began)))
    Hand(sections, ask, limits, line, number=1).plans()


if __name__ == "__main__":
    main()
