"""How far a device's clock is off, and what its times are corrected by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

SLOWEST = timedelta(seconds=5)
"""A delivery takes its time, and that makes a clock look slow by as much, never fast. A clock that looks slower than
at the delivery before by no more than this is taken to be as it was: of several readings of a clock the one with the
least delay is the truest (RFC 5905, section 10, from memory: the clock filter)."""
HALF_A_MINUTE = timedelta(seconds=30)
LONGEST = timedelta(minutes=10)
"""So long a delivery may have been on its way, by what the device has measured; beyond that its measure is in doubt."""
ROUNDING = timedelta(seconds=1)


@dataclass(frozen=True)
class Clock:
    """How to read the times of one batch.

    now             our time of receipt
    off             the device's clock minus ours, as it looks from this delivery
    before          what the device's times were corrected by until now, in seconds; None when it was never heard
    ask_tolerance   gives how far in the future a time may lie before somebody is told; asked only when it matters
    """

    now: datetime
    off: timedelta
    before: int | None
    ask_tolerance: Callable[[], timedelta]

    @classmethod
    def of(
        cls,
        device_now: datetime | None,
        now: datetime,
        ask_tolerance: Callable[[], timedelta],
        before: int | None = None,
        sent: datetime | None = None,
    ) -> Clock:
        """`sent` is our time at the moment of sending, as the device has measured it: a delivery may be long on its
        way, and then the time of receipt says less about the device's clock."""
        ours = now if sent is None or not -ROUNDING <= now - sent <= LONGEST else sent
        return cls(now, device_now - ours if device_now is not None else timedelta(0), before, ask_tolerance)

    @cached_property
    def tolerance(self) -> timedelta:
        return self.ask_tolerance()

    @cached_property
    def correction(self) -> timedelta:
        """Whole seconds, and the same for deliveries of one device that differ only by how long they were on the way:
        what was scanned in this order must not change it."""
        here = timedelta(seconds=round(self.off / timedelta(seconds=1)))
        before = None if self.before is None else timedelta(seconds=self.before)
        return here if before is None or not timedelta(0) <= before - here <= SLOWEST else before

    @property
    def is_off(self) -> bool:
        """By less than half a minute is no fault of any clock, however strict the yard: that may be the network."""
        return abs(self.off) >= HALF_A_MINUTE and abs(self.off) > self.tolerance

    def happened(self, said: datetime) -> tuple[datetime, bool]:
        """The fold's time, and whether the time given is too far in the future to be believed."""
        at = said - self.correction
        if at <= self.now:
            return at, False
        return self.now, at > self.now + self.tolerance
