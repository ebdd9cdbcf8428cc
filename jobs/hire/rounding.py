"""Money to a currency's smallest unit: half rounds away from zero, once, at the line.

Half away from zero is what "half up" means for money here: 0.125 is 0.13 and -0.125 is -0.13, so that a
credit mirrors the bill it corrects to the cent. (EN 16931's own rule sheets round with XPath `round()`,
which takes -0.125 to -0.12; their tolerance lets both pass.) Sums inside a line are exact fractions, so a
week's price over seven never drifts before it is rounded.

>>> str(rounded(Fraction(1461, 4000) * 1000, 2)), str(rounded(Decimal("-0.125"), 2))
('365.25', '-0.13')
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction


def rounded(amount: Fraction | Decimal | int, places: int) -> Decimal:
    """`amount` to `places` decimals, halves away from zero; exact for fractions."""
    exact = amount if isinstance(amount, Fraction) else Fraction(amount)
    scaled = abs(exact.numerator) * 10**places
    whole = (2 * scaled + exact.denominator) // (2 * exact.denominator)
    return Decimal(whole if exact >= 0 else -whole).scaleb(-places)
