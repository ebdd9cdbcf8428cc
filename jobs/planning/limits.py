"""How long a search may take: by the clock if asked, always by work, and until it is called off.

Work limits (nodes, rounds) are the same on every machine, so that a search stopped by them gives the same
answer each time; one stopped by the clock need not.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

Progress = Callable[[float, str], None]


def _nothing(share: float, words: str) -> None:
    """For callers that do not watch."""


@dataclass
class Limits:
    """`seconds` from now, or None for work limits alone. `progress` is told a share done and words."""

    seconds: float | None = None
    progress: Progress = _nothing
    cancelled: Callable[[], bool] = field(default=lambda: False)
    began: float = field(default_factory=time.perf_counter)

    def spent(self) -> float:
        """Seconds since the search began."""
        return time.perf_counter() - self.began

    def left(self) -> float:
        """Seconds left; infinite if there is no clock, 0 once called off."""
        if self.cancelled():
            return 0.0
        return float("inf") if self.seconds is None else max(0.0, self.seconds - self.spent())

    def over(self) -> bool:
        """Whether to stop now."""
        return self.left() <= 0.0

    def within(self, share: float) -> Limits:
        """The same limits with only `share` of the time left."""
        if self.seconds is None:
            return self
        return Limits(self.spent() + self.left() * share, self.progress, self.cancelled, self.began)
