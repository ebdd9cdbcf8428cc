"""What cutting bars is asked and answers, and how it is read from JSON.

A bar of length L gives n pieces when their lengths and n - 1 saw cuts fit in L; the last cut may fall at the
bar's end. Written with the kerf k: sum(length + k) <= L + k.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from jobs.errors import BadRequest
from jobs.planning.schemas import read_json, require_valid

Objective = Literal["bars", "length", "cost"]


@dataclass(frozen=True, slots=True)
class Bar:
    """A kind of mill bar: length in mm, what one costs, how many there are (None: as many as wanted)."""

    length_mm: int
    cost: float | None = None
    count: int | None = None


@dataclass(frozen=True, slots=True)
class Wanted:
    """So many pieces of one length."""

    length_mm: int
    count: int


@dataclass(frozen=True, slots=True)
class CutRequest:
    """Bars to cut, the saw's kerf in mm, what to make least, and the pieces wanted."""

    bars: tuple[Bar, ...]
    pieces: tuple[Wanted, ...]
    kerf_mm: int = 0
    objective: Objective = "bars"

    def worth(self, bar: Bar) -> float:
        """What using one such bar counts for."""
        if self.objective == "bars":
            return 1.0
        return float(bar.length_mm) if self.objective == "length" else float(bar.cost or 0)


@dataclass(frozen=True, slots=True)
class Pattern:
    """So many bars cut alike; the pieces longest first."""

    bar_mm: int
    times: int
    pieces: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class CutAnswer:
    """A cutting list with the proved least of what was to be made least."""

    bars_used: int
    length_used_mm: int
    cost: float | None
    bound: float
    proved: bool
    patterns: tuple[Pattern, ...]

    def as_json(self) -> dict[str, Any]:
        """The answer as `docs/schemas/cut_bars.answer.json` describes it."""
        return {
            "bars_used": self.bars_used,
            "length_used_mm": self.length_used_mm,
            "cost": self.cost,
            "bound": self.bound,
            "proved": self.proved,
            "patterns": [
                {"bar_mm": cut.bar_mm, "times": cut.times, "pieces": list(cut.pieces)} for cut in self.patterns
            ],
        }


def read_cut_request(text: str | bytes) -> CutRequest:
    """The request in a JSON text."""
    return parse_cut_request(read_json(text))


def parse_cut_request(data: Any) -> CutRequest:
    """The request in a JSON value, refused with the field named where it is unsound."""
    require_valid("cut_bars.request", data)
    request = CutRequest(
        bars=tuple(
            Bar(int(bar["length_mm"]), bar.get("cost"), None if "count" not in bar else int(bar["count"]))
            for bar in data["bars"]
        ),
        pieces=tuple(Wanted(int(item["length_mm"]), int(item["count"])) for item in data["pieces"]),
        kerf_mm=int(data.get("kerf_mm", 0)),
        objective=data.get("objective", "bars"),
    )
    _refuse_unsound(request)
    return request


def _refuse_unsound(request: CutRequest) -> None:
    if request.objective == "cost":
        for at, bar in enumerate(request.bars):
            if bar.cost is None:
                raise BadRequest(f"bars[{at}].cost", "is missing; least cost needs the cost of every bar.")
    longest = max((bar.length_mm for bar in request.bars if bar.count != 0), default=0)
    for at, piece in enumerate(request.pieces):
        if piece.count and piece.length_mm > longest:
            raise BadRequest(
                f"pieces[{at}].length_mm", f"{piece.length_mm} mm is longer than any bar there is ({longest} mm)."
            )
