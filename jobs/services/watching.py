"""Long work that a search does: it says how far it is, and looks now and then whether it should stop."""

from __future__ import annotations

from time import monotonic

from inventory.models.work import LongWork
from inventory.services.work import WorkCancelled, beat
from jobs.planning.limits import Progress

LOOK_SECONDS = 1.0


class Watching:
    """Tells how far the work is, and looks at most once a second whether it should stop."""

    def __init__(self, work: LongWork) -> None:
        self.work = work
        self.said = (0, "")
        self.looked = monotonic()

    def progress(self, share: float, words: str) -> None:
        self.said = (round(share * 100), words)
        beat(self.work, *self.said)

    def part(self, share: float) -> Progress:
        """What tells how far a first part of the work is, which is so much of it."""
        return lambda done, words: self.progress(done * share, words)

    def cancelled(self, at_once: bool = False) -> bool:
        if at_once or monotonic() - self.looked > LOOK_SECONDS:
            self.looked = monotonic()
            try:
                beat(self.work, *self.said)
            except WorkCancelled:
                return True
        return False
