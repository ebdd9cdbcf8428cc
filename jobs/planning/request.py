"""What a cover check is asked: rules, types of edge form with what is on hand, and the runs to make.

Lengths are whole millimetres, days are `datetime.date`, and a run holds its gear on the half-open days
[`start`, `until`): it is free again on `until`. Values here are frozen and assumed sound; `parse_request`
in `request_json` is what refuses unsound ones, with the field named.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from typing import Literal

Label = str | int
Ends = Literal["splayed", "any"]
Ask = Literal["plan", "covered"]


@dataclass(frozen=True, slots=True)
class Rules:
    """How runs are composed and what handling is worth; all but `ends` in mm or pieces.

    `corner_allowance_mm` is what a run needs beyond its side (negative for a closed run, which may fall
    short by the filler); `max_overrun_mm` what it may have beyond that. A piece costs its length plus
    `piece_handling_mm`, a joint `joint_handling_mm`. `ends` "any" is gear whose corners and joints are
    all square, so that there is no rule on ends.
    """

    corner_allowance_mm: int
    max_overrun_mm: int
    max_pieces_per_run: int
    piece_handling_mm: int
    joint_handling_mm: int
    ends: Ends = "splayed"


@dataclass(frozen=True)
class PieceType:
    """A type of edge form. `on_hand` is steps (day, count): from that day on, that many; before, none."""

    code: str
    section_mm: int
    length_mm: int
    splayed_ends: int
    on_hand: tuple[tuple[date, int], ...] = ()

    @cached_property
    def _days(self) -> list[date]:
        return [day for day, _ in self.on_hand]

    def count_on(self, day: date) -> int:
        """How many are on hand on `day`.

        >>> form = PieceType("A", 150, 3000, 1, ((date(2027, 3, 1), 24), (date(2027, 3, 9), 30)))
        >>> [form.count_on(date(2027, month, 9)) for month in (2, 3)] + [form.count_on(date(2027, 3, 8))]
        [0, 30, 24]
        """
        at = bisect_right(self._days, day)
        return self.on_hand[at - 1][1] if at else 0


@dataclass(frozen=True, slots=True)
class Run:
    """One side of a panel that needs a form, on the days [`start`, `until`).

    `corner_allowance_mm` and `max_overrun_mm` are the rules' when None. `seats` is how many of its ends
    seat against the face of the next form: 0, 1 (an ordinary run) or 2.
    """

    pour: Label
    side: Label
    section_mm: int
    length_mm: int
    start: date
    until: date
    seats: int = 1
    corner_allowance_mm: int | None = None
    max_overrun_mm: int | None = None

    def window(self, rules: Rules) -> tuple[int, int]:
        """The least and the greatest total length, in mm, that its pieces may have.

        >>> rules = Rules(100, 900, 3, 0, 0)
        >>> Run("P1", "N", 150, 6000, date(2027, 3, 1), date(2027, 3, 4)).window(rules)
        (6100, 7000)
        """
        allowance = self.corner_allowance_mm
        overrun = self.max_overrun_mm
        least = self.length_mm + (rules.corner_allowance_mm if allowance is None else allowance)
        return least, least + (rules.max_overrun_mm if overrun is None else overrun)


@dataclass(frozen=True, slots=True)
class CoverRequest:
    """Everything one cover check depends on."""

    rules: Rules
    pieces: tuple[PieceType, ...]
    runs: tuple[Run, ...]
    ask: Ask = "plan"

    def with_stock(self, on_hand: dict[str, Iterable[tuple[date, int]]]) -> CoverRequest:
        """The same request with other steps on hand for the codes given."""
        pieces = tuple(
            replace(piece, on_hand=tuple(on_hand[piece.code])) if piece.code in on_hand else piece
            for piece in self.pieces
        )
        return replace(self, pieces=pieces)
