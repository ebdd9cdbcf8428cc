"""The short code on a tag: eight random characters and a check character.

The code is opaque: it says nothing of the piece, so a piece can change type, place or owner and keep its tag.

Alphabet: the 36 digits and capital letters without 0 and O, and without 1, I and L, which are taken for one another
in print and in handwriting. That leaves 31, a prime, so that the check works in a field and its character never
leaves the alphabet. Pairs that look alike at a glance but differ on a second look (5 S, 8 B, 2 Z, U V) stay in: one
taken for the other is a single wrong character, and the check finds every one of those.

Check: with the characters numbered 0 to 30, the sum of weight x number over all nine is 0 modulo 31; the weights run
9, 8, ... 2 over the body and 1 on the check character. Since 31 is prime, each weight is between 1 and 30, all are
different and no two of them add up to 31, it finds every single wrong character, every swap of any two places
however far apart, and every pair of equal characters that becomes another pair of equal ones (44 typed as 55).
The argument is that of ISBN-10 (ISO 2108), carried from 11 to 31.

>>> with_check("ABCDEFGH")
'ABCDEFGH3'
>>> validate("abcd-efgh-3")
'ABCDEFGH3'
>>> format("ABCDEFGH3")
'ABCD-EFGH-3'
>>> is_valid("ABCDEFHG3")
False
"""

from __future__ import annotations

import random
import re
from urllib.parse import unquote

from inventory.errors import Refused

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
BODY = 8
LENGTH = BODY + 1
_VALUE = {character: value for value, character in enumerate(ALPHABET)}
_MODULUS = len(ALPHABET)
_SEPARATORS = re.compile(r"[\s\-\u2010-\u2015_.]+")
_TAG_ADDRESS = re.compile(r"^[a-z][a-z0-9+.\-]*://[^/?#]+(?:/[^?#]*)?/t/([^/?#]+)/?(?:[?#].*)?$", re.IGNORECASE)


def compact(text: str) -> str:
    """The code as it is stored: capitals, without spaces, hyphens and dots. Checks nothing."""
    return _SEPARATORS.sub("", text).upper()


def check_character(body: str) -> str:
    """The ninth character for the first eight. KeyError for a character outside the alphabet."""
    total = sum(weight * _VALUE[character] for weight, character in zip(range(LENGTH, 1, -1), body, strict=True))
    return ALPHABET[-total % _MODULUS]


def with_check(body: str) -> str:
    """Eight characters and their check character."""
    return body + check_character(body)


def validate(text: str) -> str:
    """The code as stored, or Refused with what is wrong with it, in words.

    Codes of the refusal: tag-length, tag-alphabet, tag-check.
    """
    code = compact(text)
    strange = sorted({character for character in code if character not in _VALUE})
    if strange:
        raise Refused("tag-alphabet", _about_strange(strange))
    if len(code) != LENGTH:
        raise Refused(
            "tag-length", f"A tag code has {LENGTH} characters; “{text.strip()[:40]}” has {len(code)}. Read it again."
        )
    if check_character(code[:BODY]) != code[BODY]:
        raise Refused(
            "tag-check",
            f"“{format(code)}” is not a tag code: a character is wrong or two are swapped. Read the tag again.",
        )
    return code


def _about_strange(strange: list[str]) -> str:
    shown = ", ".join(f"“{character}”" for character in strange[:5])
    hint = " Codes never hold 0, O, 1, I or L." if set(strange) & set("0O1IL") else ""
    return f"No tag code holds {shown}.{hint} Read the tag again."


def is_valid(text: str) -> bool:
    """Would `validate` take it?"""
    try:
        validate(text)
    except Refused:
        return False
    return True


def format(text: str) -> str:
    """Grouped for reading and typing: ABCD-EFGH-3. Text of another length comes back as compacted."""
    code = compact(text)
    return f"{code[:4]}-{code[4:8]}-{code[8:]}" if len(code) == LENGTH else code


def make(rng: random.Random | None = None) -> str:
    """A new code. Without `rng`, from the system's source of randomness; whether it is new is for the store to see.

    31 ** 8 is 8.5e11: among 100,000 pieces the chance that one new code is taken already is about 1 in 8 million.
    """
    source = rng or random.SystemRandom()
    return with_check("".join(source.choice(ALPHABET) for _ in range(BODY)))


def from_scan(text: str) -> str:
    """The code inside what a camera or a handheld scanner reads: the printed address, or the bare code.

    >>> from_scan("HTTPS://YARD.EXAMPLE/T/ABCDEFGH3")
    'ABCDEFGH3'

    Checks nothing: what comes back goes through `validate`.
    """
    found = _TAG_ADDRESS.match(text.strip())
    return compact(unquote(found.group(1)) if found else text)


def address(base: str, code: str) -> str:
    """What the QR holds: the address of the piece's page, in capitals so that it fits the denser alphanumeric mode.

    `base` is scheme and host; host names do not tell capitals from small letters, and the path /T/ is served in
    capitals.

    >>> address("https://yard.example/", "ABCDEFGH3")
    'HTTPS://YARD.EXAMPLE/T/ABCDEFGH3'
    """
    return f"{base.strip().rstrip('/')}/T/{compact(code)}".upper()
