"""The line between two hands that search the same sections, each in a process of its own: news goes both ways."""

from __future__ import annotations

from collections.abc import Iterator
from multiprocessing.connection import Connection
from typing import Any

from jobs.planning.standing import News

_BROKEN = (EOFError, OSError)


class Line:
    """Two connections, one each way. Once the other end is gone what is told is lost, but what it told before it went
    is still heard; the line is `open` until all of that is."""

    def __init__(self, hearing: Connection[Any, Any], telling: Connection[Any, Any]) -> None:
        self.hearing, self.telling = hearing, telling
        self.open = self.listened_to = True

    def tell(self, at: int, news: News) -> None:
        """Tell the other hand what was found in section `at`."""
        try:
            if self.listened_to:
                self.telling.send((at, news))
        except _BROKEN:
            self.listened_to = False

    def heard(self) -> Iterator[tuple[int, News]]:
        """What has come in since it was last asked for."""
        try:
            while self.open and self.hearing.poll():
                yield self.hearing.recv()
        except _BROKEN:
            self.open = False
