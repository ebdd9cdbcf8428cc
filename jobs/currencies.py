"""Currencies by ISO 4217, which planning and hire both need, and amounts as people read them.

>>> minor_units("JPY"), minor_units("AUD"), minor_units("KWD")
(0, 2, 3)
>>> amount_words(Decimal("1234.5"), "AUD"), amount_words(Decimal("1234.5"), "JPY")
('1,234.50 AUD', '1,234 JPY')
"""

from __future__ import annotations

from decimal import Decimal
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


def amount_words(amount: Decimal | int, currency: str) -> str:
    """The amount with its currency's decimal places, two where the currency is none of ISO 4217, and its code."""
    try:
        places = minor_units(currency)
    except BadRequest:
        places = 2
    return f"{Decimal(amount).quantize(Decimal(1).scaleb(-places)):,} {currency}"
