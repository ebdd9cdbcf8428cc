"""From a cell's text to a value. Every reader raises ValueError with what is wrong and what to write instead."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from inventory.errors import Refused
from inventory.tags import code as tag_code
from inventory.tags import giai
from inventory.written import NotOneDay, read_day

Reader = Callable[[str, bool], Any]
"""(text, whether a comma is a decimal comma in this file) -> value. Empty text never reaches a reader."""
_YES = frozenset({"yes", "y", "true", "1", "x"})
_NO = frozenset({"no", "n", "false", "0", "-"})
_TWO_WAYS = re.compile(r"^\d{1,3}[.,]\d{3}$")


def text(longest: int) -> Reader:
    def read(said: str, _comma: bool) -> str:
        if len(said) > longest:
            raise ValueError(f"is {len(said)} characters long: at most {longest} fit")
        return said

    return read


def whole(least: int, most: int) -> Reader:
    def read(said: str, comma: bool) -> int:
        value = _number(said, comma)
        if value != value.to_integral_value() or not least <= value <= most:
            raise ValueError(f"“{said}” is not a whole number from {least:,} to {most:,}")
        return int(value)

    return read


def number(places: int, most: int) -> Reader:
    def read(said: str, comma: bool) -> Decimal:
        value = _number(said, comma)
        if not 0 <= value <= most:
            raise ValueError(f"“{said}” is not a number from 0 to {most:,}")
        if value != round(value, places):
            raise ValueError(f"“{said}” has more than {places} decimal places: round it")
        return value

    return read


def _number(said: str, comma: bool) -> Decimal:
    """12.5, 1,234.5 or 1 234.5; with a decimal comma 12,5, 1.234,5 or 1 234,5."""
    if said.startswith("="):
        raise ValueError(f"“{said}” is a formula that was never worked out: write what it comes to")
    bare = said.replace(" ", "").replace("'", "")
    point, group = (",", ".") if comma else (".", ",")
    if _TWO_WAYS.match(bare) and group in bare:
        raise ValueError(f"“{said}” can be read in two ways: write it without “{group}”")
    if group in bare and not re.match(rf"^[+-]?\d{{1,3}}(?:\{group}\d{{3}})+(?:\{point}\d*)?$", bare):
        if bare.count(group) > 1 or point in bare:
            raise ValueError(f"“{said}” is not a number")
        bare = bare.replace(group, point)
    try:
        value = Decimal(bare.replace(group, "").replace(point, "."))
    except InvalidOperation:
        raise ValueError(f"“{said}” is not a number: write figures only, without a unit") from None
    if not value.is_finite():
        raise ValueError(f"“{said}” is not a number: write figures only, without a unit")
    return value


def day(said: str, _comma: bool) -> date:
    try:
        return read_day(said)
    except NotOneDay as wrong:
        raise ValueError(f"“{said}” {wrong}") from None


def yes_no(said: str, _comma: bool) -> bool:
    if said.lower() in _YES | _NO:
        return said.lower() in _YES
    raise ValueError(f"“{said}” is neither yes nor no")


def one_of(words: Iterable[str]) -> Reader:
    known = {word.lower(): word for word in words}

    def read(said: str, _comma: bool) -> str:
        if said.lower() not in known:
            raise ValueError(f"“{said}” is not one of: {', '.join(known.values())}")
        return known[said.lower()]

    return read


def tag(said: str, _comma: bool) -> str:
    return _kept(tag_code.validate, tag_code.from_scan(said))


def gs1(said: str, _comma: bool) -> str:
    return _kept(giai.validate, said)


def _kept(validate: Callable[[str], str], said: str) -> str:
    try:
        return validate(said)
    except Refused as refused:
        raise ValueError(refused.sentence) from refused


def tag_or_number(said: str, _comma: bool) -> str:
    """A tag code as stored, or else one's own number as it stands."""
    code = tag_code.from_scan(said)
    return code if tag_code.is_valid(code) else said
