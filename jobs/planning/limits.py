"""How long a search may take: by the clock if asked, always by work, and until it is called off.

Work limits (nodes, rounds) are the same on every machine, so that a search stopped by them gives the same
answer each time; one stopped by the clock need not.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

Progress = Callable[[float, str], None]
_LOOK_EVERY = 0.25


def _never() -> bool:
    return False


@dataclass
class Watch:
    """Asks whether the search is called off, at most four times a second: the answer may cost a query."""

    cancelled: Callable[[], bool]
    off: bool = False
    looked: float = float("-inf")

    def called_off(self) -> bool:
        """Whether to stop; once true it stays so."""
        now = time.perf_counter()
        if not self.off and now - self.looked >= _LOOK_EVERY:
            self.looked = now
            self.off = self.cancelled()
        return self.off


@dataclass(frozen=True)
class Limits:
    """`seconds` since `began`, or None for work limits alone. Where `steady`, no part of the search has a time of its
    own: the answer is the same each time unless all of the seconds are over. `first` and `width` are this part's share
    of the progress told."""

    seconds: float | None = None
    progress: Progress | None = None
    watch: Watch | None = None
    off: Callable[[], bool] = _never
    steady: bool = False
    began: float = field(default_factory=time.perf_counter)
    first: float = 0.0
    width: float = 1.0

    def spent(self) -> float:
        """Seconds since the search began."""
        return time.perf_counter() - self.began

    def called_off(self) -> bool:
        """Whether to stop, whatever time is left."""
        return self.off() or (self.watch is not None and self.watch.called_off())

    def left(self) -> float:
        """Seconds left; infinite if there is no clock, 0 once called off."""
        if self.called_off():
            return 0.0
        return float("inf") if self.seconds is None else max(0.0, self.seconds - self.spent())

    def over(self) -> bool:
        """Whether to stop now."""
        return self.left() <= 0.0

    def within(self, share: float) -> Limits:
        """The same limits with only `share` of the time left."""
        if self.seconds is None or self.steady:
            return self
        return replace(self, seconds=self.spent() + self.left() * share)

    def at_most(self, seconds: float) -> Limits:
        """The same limits with no more than so many seconds left, where there is a clock at all."""
        if self.seconds is None or self.steady:
            return self
        return replace(self, seconds=min(self.seconds, self.spent() + seconds))

    def also(self, off: Callable[[], bool]) -> Limits:
        """The same limits, and over once `off()` turns true, which must cost little to ask."""
        return replace(self, off=off)

    def part(self, first: float, width: float) -> Limits:
        """The same limits for a part of the work, `first` to `first + width` of the whole."""
        return replace(self, first=self.first + first * self.width, width=width * self.width)

    def tell(self, share: float, words: str) -> None:
        """Say how far this part is, 0 to 1, in words."""
        if self.progress is not None:
            self.progress(self.first + share * self.width, words)
