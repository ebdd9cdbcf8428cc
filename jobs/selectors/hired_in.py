"""What the hired-in gear of a bill earns, beside what it costs us by the same days."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from jobs.currencies import minor_units
from jobs.hire.rounding import rounded
from jobs.models import Bill, BillLine


@dataclass
class HiredIn:
    """One type's hired-in pieces on a bill, to the end of its period; no cost where none is on record."""

    code: str
    pieces: int
    earned: Decimal
    cost: Decimal | None

    @property
    def left(self) -> Decimal | None:
        return None if self.cost is None else self.earned - self.cost


def hired_in_on(bill: Bill, lines: list[BillLine]) -> list[HiredIn]:
    """By type, in the order of their codes. Own gear on the same lines is left out of what they earn."""
    counts = {one["id"]: one["count"] for one in bill.facts.get("stays", []) if one.get("hired_in")}
    stays: dict[str, set[str]] = {}
    earned: dict[str, Fraction] = {}
    costs: dict[str, Decimal] = {}
    for line in lines:
        for part in line.parts:
            if part["stay"] in counts:
                stays.setdefault(line.type_code, set()).add(part["stay"])
                earned[line.type_code] = earned.get(line.type_code, Fraction(0)) + Fraction(part["amount"])
        if line.cost is not None:
            costs[line.type_code] = costs.get(line.type_code, Decimal(0)) + line.cost
    places = minor_units(bill.currency)
    return [
        HiredIn(code, sum(counts[one] for one in stays[code]), rounded(earned[code], places), costs.get(code))
        for code in sorted(stays)
    ]
