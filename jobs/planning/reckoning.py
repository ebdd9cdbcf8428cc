"""Places along a run as people measure them: from the end that its pieces are laid from, in mm.

Within the plan they count from the start of the run, walking anti-clockwise. Whoever sets the run out hooks the tape
where the first piece seats, so whatever is told about the run counts from there.
"""

from __future__ import annotations

from dataclasses import dataclass

from jobs.planning.corners import End

ORIGINS: dict[End, str] = {
    "seats": "the seat",
    "stops": "the corner it stops at",
    "free": "its free end",
    "passes": "its first corner",
}


@dataclass(frozen=True, slots=True)
class Reckoning:
    """A run of `length_mm`, told from its end where `from_end`, else from its start; `held` is how it stands there."""

    length_mm: int
    from_end: bool
    held: End

    @property
    def origin(self) -> str:
        """What is measured from, such as "the seat"."""
        return ORIGINS[self.held]

    def of(self, mm: int) -> int:
        """A place along the run as its distance from the origin.

        >>> Reckoning(6000, True, "seats").of(5700), Reckoning(6000, False, "seats").of(5700)
        (300, 5700)
        """
        return self.length_mm - mm if self.from_end else mm

    def told(self, *places: int) -> str:
        """Places in words, the nearest first.

        >>> Reckoning(6000, True, "seats").told(2500), Reckoning(6000, True, "stops").told(300, 1500)
        ('3,500 mm from the seat', '4,500 and 5,700 mm from the corner it stops at')
        """
        return f"{' and '.join(f'{mm:,}' for mm in sorted(map(self.of, places)))} mm from {self.origin}"
