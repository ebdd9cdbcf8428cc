"""Days that come in an address."""

from __future__ import annotations

from datetime import date

from django.utils.dateparse import parse_date


def day_said(text: str) -> date | None:
    """The day that `text` gives as 2027-03-01; None where it gives none, or one that does not exist."""
    try:
        return parse_date(text)
    except ValueError:
        return None
