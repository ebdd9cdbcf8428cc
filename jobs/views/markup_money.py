"""Amounts as pages say them, with the decimal places of their currency by ISO 4217.

{{ bill.gross|money:bill.currency }}                 1,234.50 AUD
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template

from jobs.currencies import amount_words

register = template.Library()


@register.filter
def money(amount: Any, currency: str) -> str:
    """The amount and its currency; empty for none."""
    if amount is None or amount == "":
        return ""
    return amount_words(Decimal(amount), currency)


@register.filter
def plainly(number: Any) -> str:
    """A number without trailing noughts: 40, 1.5."""
    return "" if number is None else f"{Decimal(number).normalize():f}"
