"""GS1 Global Individual Asset Identifier, for owners who hold a GS1 company prefix. Optional, one per piece.

Application identifier (8004) in the GS1 General Specifications and in the GS1 barcode syntax dictionary: up to 30
characters of GS1's character set 82, beginning with a GS1 company prefix of 4 to 12 digits, with no check digit.
(Read in transcriptions of the dictionary, release 2026-01-27.) A prefix is licensed by GS1; nobody may make one up,
so Pourback never makes a GIAI: it only keeps and checks what it is given.

>>> validate("(8004) 0614141FW7K3F9Q2")
'0614141FW7K3F9Q2'
>>> digital_link("0614141FW/7")
'https://id.gs1.org/8004/0614141FW%2F7'
>>> is_valid("FW7K3F9Q2")
False
"""

from __future__ import annotations

import re
from urllib.parse import quote, unquote, urlsplit

from inventory.errors import Refused

CSET_82 = frozenset("!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz")
LONGEST = 30
_ELEMENT = re.compile(r"^\(8004\)\s*")
_PREFIX = re.compile(r"\d{4}")


def compact(text: str) -> str:
    """The identifier alone: without space around it, without a leading (8004), taken out of a digital link."""
    text = text.strip()
    if re.match(r"^https?://", text, re.IGNORECASE):
        return _from_link(text)
    return _ELEMENT.sub("", text)


def _from_link(text: str) -> str:
    parts = urlsplit(text).path.split("/")
    if "8004" not in parts[:-1]:
        raise Refused("giai-link", "That address holds no GS1 asset identifier: it needs /8004/ and the identifier.")
    return unquote(parts[parts.index("8004") + 1])


def validate(text: str) -> str:
    """The identifier, or Refused. Codes: giai-link, giai-length, giai-characters, giai-prefix.

    Where the company prefix ends cannot be seen from the digits alone, so no more is asked than that at least four
    digits stand first (the shortest prefix GS1 licenses).
    """
    identifier = compact(text)
    if not identifier or len(identifier) > LONGEST:
        raise Refused("giai-length", f"A GIAI has 1 to {LONGEST} characters; this has {len(identifier)}.")
    strange = sorted(set(identifier) - CSET_82)
    if strange:
        shown = ", ".join("a space" if c == " " else f"“{c}”" for c in strange[:5])
        raise Refused("giai-characters", f"A GIAI cannot hold {shown}: only GS1's character set 82 is allowed.")
    if not _PREFIX.match(identifier):
        raise Refused(
            "giai-prefix",
            "A GIAI begins with the company prefix that GS1 licensed to its owner: 4 to 12 digits. "
            "Without such a prefix leave this empty; the tag code is enough.",
        )
    return identifier


def is_valid(text: str) -> bool:
    """Would `validate` take it?"""
    try:
        validate(text)
    except Refused:
        return False
    return True


def format(text: str) -> str:
    """As printed beside a barcode: (8004)0614141FW7K3F9Q2."""
    return f"(8004){compact(text)}"


def digital_link(text: str, base: str = "https://id.gs1.org") -> str:
    """The GS1 Digital Link of the identifier (GS1 Digital Link URI syntax): base, /8004/, the value percent-encoded."""
    return f"{base.rstrip('/')}/8004/{quote(validate(text), safe='')}"
