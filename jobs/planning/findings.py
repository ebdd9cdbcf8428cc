"""What a plan must tell its reader: a code for programs, a sentence for people, and where it is.

Checks are functions that return findings, so that a reader sees every fault at once and not the first only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Weight = Literal["refuse", "warn", "note"]


@dataclass(frozen=True, slots=True)
class Finding:
    """`weight`: "refuse" the plan cannot stand, "warn" a person must look, "note" worth knowing.

    `where` says it in words ("panel A3, side 2"); `panel` and `side` (counted from 0) let a program find it.
    """

    code: str
    sentence: str
    where: str = ""
    weight: Weight = "warn"
    panel: str = ""
    side: int | None = None


def metres(mm: int) -> str:
    """A length for people: metres with as many decimals as it needs, at least one.

    >>> metres(6000), metres(3650), metres(12345)
    ('6.0 m', '3.65 m', '12.345 m')
    """
    whole, rest = divmod(abs(mm), 1000)
    decimals = f"{rest:03d}".rstrip("0") or "0"
    return f"{'-' if mm < 0 else ''}{whole}.{decimals} m"


def pour_words(name: str) -> str:
    """A pour for people, whose name may be a day, a number, or say already that it is one.

    >>> pour_words("2027-03-05"), pour_words("Pour 3"), pour_words("pour west")
    ('Pour 2027-03-05', 'Pour 3', 'Pour west')
    """
    named = name.lower().startswith("pour")
    return f"Pour{name[4:]}" if named else f"Pour {name}"
