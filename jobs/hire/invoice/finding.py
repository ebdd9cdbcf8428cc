"""What a broken rule is told as."""

from __future__ import annotations

from typing import NamedTuple


class Finding(NamedTuple):
    """One broken rule: its name in the standard, where, and a sentence that says what to do."""

    rule: str
    where: str
    sentence: str
