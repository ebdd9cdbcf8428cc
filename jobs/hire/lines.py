"""The values that charging yields: a charge to a day, and a bill's line."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from jobs.hire.book import Piece
from jobs.hire.stays import Charge, StandDown, Stay
from jobs.hire.terms import ALL, Tax, Terms


class Entry(NamedTuple):
    """One stay's share of a charge: `piece` for one of its pieces, `amount` for all of them, exact.

    `by_use`: charged by uses, of which `piece.days` are then the number. Where the stay continues another,
    `piece.parts` are those of the whole hire, of which `carried` stands on the stays before.
    """

    stay: Stay
    piece: Piece
    amount: Fraction
    by_use: bool = False
    carried: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Due:
    """The charge of one line up to a day, as known: `amount` is rounded, once."""

    line: str
    kind: str
    type: str
    amount: Decimal
    tax: Tax
    entries: tuple[Entry, ...] = ()
    quantity: Decimal = Decimal(0)
    uses: int | None = None
    rate: Decimal | None = None
    per: str = ""
    charge: Charge | None = None
    topped_up: Decimal = Decimal(0)
    cost: Decimal | None = None
    terms: Terms = Terms()
    share: Fraction = ALL
    downs: tuple[StandDown, ...] = ()
    had: Decimal = Decimal(0)

    @property
    def stays(self) -> tuple[str, ...]:
        """The stays it is for."""
        if self.charge is not None:
            return self.charge.stays
        return tuple(one.stay.id for one in self.entries)

    @property
    def days(self) -> int | None:
        """The charged days of each stay, None where they differ."""
        days = {None if one.by_use else one.piece.days for one in self.entries}
        return days.pop() if len(days) == 1 and self.kind == "hire" else None


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a bill. `net` = `charged` - `billed_before` = `this_period` + `adjustment`, always.

    `charged` is the whole charge to the period's end as now known; `this_period` what the period itself
    adds; `adjustment` what earlier periods should have been, less what was billed for them.
    """

    line: str
    kind: str
    type: str
    stays: tuple[str, ...]
    quantity: Decimal
    days: int | None
    uses: int | None
    rate: Decimal | None
    per: str
    charged: Decimal
    billed_before: Decimal
    this_period: Decimal
    adjustment: Decimal
    net: Decimal
    tax: Tax
    why: str
    causes: tuple[str, ...] = ()
    cost: Decimal | None = None
    due: Due | None = None
