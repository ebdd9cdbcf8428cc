"""Proportions with an honest band: so many of so many, and what the true share may be."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

Z95 = 1.959963984540054
"""The 97.5 % point of the normal distribution, for a two-sided band of 95 %."""
TOO_FEW = 30
"""Below so many uses a rate is not said: its band would be wider than anything it could tell."""


@dataclass(frozen=True, slots=True)
class Rate:
    """`hits` of `tries`, as a share, with its 95 % band [low, high]; shares between 0 and 1."""

    hits: int
    tries: int
    share: float
    low: float
    high: float

    @property
    def percent(self) -> float:
        return self.share * 100

    @property
    def percent_low(self) -> float:
        return self.low * 100

    @property
    def percent_high(self) -> float:
        return self.high * 100

    @property
    def too_few(self) -> bool:
        return self.tries < TOO_FEW


def wilson(hits: int, tries: int, z: float = Z95) -> Rate:
    """The score interval of E. B. Wilson (1927), as in R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872.

    Raises ValueError unless 0 <= hits <= tries. With no tries the share is 0 and the band is everything.

    >>> rate = wilson(81, 263)
    >>> f"{rate.low:.4f} {rate.high:.4f}"
    '0.2553 0.3662'
    >>> wilson(3, 2)
    Traceback (most recent call last):
    ...
    ValueError: 3 of 2 is no proportion
    """
    if not 0 <= hits <= tries:
        raise ValueError(f"{hits} of {tries} is no proportion")
    if tries == 0:
        return Rate(0, 0, 0.0, 0.0, 1.0)
    share, square = hits / tries, z * z
    middle = share + square / (2 * tries)
    spread = z * sqrt(share * (1 - share) / tries + square / (4 * tries * tries))
    whole = 1 + square / tries
    low = 0.0 if hits == 0 else (middle - spread) / whole
    high = 1.0 if hits == tries else (middle + spread) / whole
    return Rate(hits, tries, share, low, high)
