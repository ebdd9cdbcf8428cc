"""Money to a currency's smallest unit: half rounds away from zero, once, at the line.

Half away from zero is what "half up" means for money here: 0.125 is 0.13 and -0.125 is -0.13, so that a
credit mirrors the bill it corrects to the cent. (EN 16931's own rule sheets round with XPath `round()`,
which takes -0.125 to -0.12; their tolerance lets both pass.) Sums inside a line are exact fractions, so a
week's price over seven never drifts before it is rounded.

>>> str(rounded(Fraction(1461, 4000) * 1000, 2)), str(rounded(Decimal("-0.125"), 2))
('365.25', '-0.13')
>>> minor_units("JPY"), minor_units("AUD"), minor_units("KWD")
(0, 2, 3)
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from functools import cache

from iso4217 import Currency

from jobs.errors import BadRequest


@cache
def minor_units(currency: str) -> int:
    """Decimal places of a currency by ISO 4217. Raises BadRequest ("currency") for one that has none."""
    try:
        exponent = Currency(currency).exponent
    except ValueError:
        raise BadRequest(
            "currency", f"{currency!r} is not an ISO 4217 code. Give three letters, such as AUD."
        ) from None
    if exponent is None:
        raise BadRequest("currency", f"{currency} has no smallest unit in ISO 4217, so it cannot be billed.")
    return int(exponent)


def rounded(amount: Fraction | Decimal | int, places: int) -> Decimal:
    """`amount` to `places` decimals, halves away from zero; exact for fractions."""
    exact = amount if isinstance(amount, Fraction) else Fraction(amount)
    scaled = abs(exact.numerator) * 10**places
    whole = (2 * scaled + exact.denominator) // (2 * exact.denominator)
    return Decimal(whole if exact >= 0 else -whole).scaleb(-places)
