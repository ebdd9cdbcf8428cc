"""What a cover check answers. Lengths in mm; counts in pieces.

The answer is a plan with proved lower bounds beside it, so that a reader can tell what was found from what
is known. `short` is each type's greatest daily lack, `load` its greatest daily use.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from jobs.planning.request import Label

PROVED_GAP = 0.001


@dataclass(frozen=True, slots=True)
class ComposedRun:
    """The codes of a run's pieces, listed from the seat."""

    pour: Label
    side: Label
    pieces: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Load:
    """The greatest number of a type in use on any day."""

    code: str
    count: int


@dataclass(frozen=True, slots=True)
class Short:
    """A type's greatest daily lack, and the first day that its use exceeds what is on hand."""

    code: str
    count: int
    first: date


@dataclass(frozen=True, slots=True)
class Impossible:
    """A run that no pieces in the list can make, and why."""

    pour: Label
    side: Label
    reason: str


@dataclass(frozen=True, slots=True)
class CoverAnswer:
    """A plan, what it lacks, what it costs, and the proved least of both.

    `cost_bound_mm` and `gap` are None where only "covered" was asked and the bound was not worked out.
    """

    covered: bool
    short_mm: int
    short_bound_mm: int
    cost_mm: int
    cost_bound_mm: int | None
    gap: float | None
    proved: bool
    seconds: float
    runs: tuple[ComposedRun, ...]
    load: tuple[Load, ...]
    short: tuple[Short, ...]
    impossible: tuple[Impossible, ...]

    def as_json(self) -> dict[str, Any]:
        """The answer as `docs/schemas/check_cover.answer.json` describes it."""
        return {
            "covered": self.covered,
            "short_mm": self.short_mm,
            "short_bound_mm": self.short_bound_mm,
            "cost_mm": self.cost_mm,
            "cost_bound_mm": self.cost_bound_mm,
            "gap": self.gap,
            "proved": self.proved,
            "seconds": self.seconds,
            "runs": [{"pour": run.pour, "side": run.side, "pieces": list(run.pieces)} for run in self.runs],
            "load": [{"code": item.code, "count": item.count} for item in self.load],
            "short": [{"code": item.code, "count": item.count, "first": item.first.isoformat()} for item in self.short],
            "impossible": [{"pour": run.pour, "side": run.side, "reason": run.reason} for run in self.impossible],
        }


def gap_between(cost_mm: int, bound_mm: int) -> float:
    """The share of the cost that is not proved necessary; 0 when the cost is 0.

    >>> gap_between(2000, 1990)
    0.005
    """
    return (cost_mm - bound_mm) / cost_mm if cost_mm else 0.0
