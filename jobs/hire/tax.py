"""Tax on a bill: once per category and rate, on the sum of the rounded lines, as EN 16931 has it.

BR-CO-17: tax = taxable amount x rate / 100, rounded to the currency's smallest unit; BR-S-08: the taxable
amount of a rate is the sum of its lines. Never tax line by line and add.

>>> twenty = Tax(rate=Decimal(20))
>>> [str(one.amount) for one in tax_groups([(twenty, Decimal("33.34"))] * 3, 2)]
['20.00']
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from jobs.hire.rounding import rounded
from jobs.hire.terms import Tax


class TaxGroup(NamedTuple):
    """The tax of one category and rate."""

    category: str
    rate: Decimal
    base: Decimal
    amount: Decimal


def tax_groups(lines: Iterable[tuple[Tax, Decimal]], places: int) -> tuple[TaxGroup, ...]:
    """The tax of lines given as (tax, net), by rate from low to high and then by category."""
    bases: dict[tuple[Decimal, str], Decimal] = {}
    for tax, net in lines:
        key = (plain_rate(tax.rate), tax.category)
        bases[key] = bases.get(key, Decimal(0)) + net
    return tuple(
        TaxGroup(category, rate, base, rounded(Fraction(base) * Fraction(rate) / 100, places))
        for (rate, category), base in sorted(bases.items())
    )


def plain_rate(rate: Decimal) -> Decimal:
    """A rate written the one way it is compared and shown: 20, not 20.00 and not 2E+1."""
    return Decimal(format(rate.normalize(), "f"))
