"""JSON in and out of the frozen dataclasses of hire: one reader that checks, one writer.

`read` takes what `json.loads(text, parse_float=Decimal)` gives. Every fault is a `BadRequest` that names
the place, such as ``stays[3].out``. Money is a decimal string; a share may be "0.5", "2/3" or a number;
a day is "2026-03-02"; an instant carries its offset, "2026-03-02T07:30:00+10:00".
"""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Callable, Iterable
from dataclasses import MISSING, Field, fields, is_dataclass
from datetime import date, datetime, time
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any, Literal, Union

from jobs.errors import BadRequest

DAY = r"[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])"
CLOCK = r"([01][0-9]|2[0-3]):[0-5][0-9]"
INSTANT = DAY + f"T{CLOCK}" + r"(:[0-5][0-9](\.[0-9]{1,6})?)?" + f"(Z|[+-]{CLOCK})"
MIDNIGHT = DAY + r"T00:00(:00(\.0{1,6})?)?" + f"(Z|[+-]{CLOCK})"
HOUR = CLOCK + "(:[0-5][0-9])?"
DECIMAL = r"-?[0-9]{1,18}(\.[0-9]{1,12})?"
SHARE = r"[0-9]{1,9}(\.[0-9]{1,12}|/[1-9][0-9]{0,8})?"
LONGEST_NUMBER = 40
_NAMES = {dict: "an object", list: "a list", str: "text", bool: "true or false", type(None): "null"}


def json_name(attribute: str) -> str:
    """`from_` in Python is "from" in JSON, since the one is a keyword there."""
    return attribute.rstrip("_")


@cache
def hints_of(cls: type) -> dict[str, Any]:
    """The resolved type of each field of a dataclass."""
    return typing.get_type_hints(cls)


def read(hint: Any, value: Any, path: str, limits: Any = types.MappingProxyType({})) -> Any:
    """`value` as the type `hint`, checked. Raises BadRequest naming `path`."""
    if is_dataclass(hint):
        return _read_object(typing.cast(type, hint), value, path)
    origin, inside = typing.get_origin(hint), typing.get_args(hint)
    if origin in (Union, types.UnionType):
        return _read_union(inside, value, path, limits)
    if origin is Literal:
        if value not in inside:
            raise BadRequest(path, f"must be one of {_list(inside)}; it is {_shown(value)}.")
        return value
    if origin in (tuple, frozenset):
        if limits.get("one_or_many") and isinstance(value, dict):
            return (read(inside[0], value, path),)
        wanted = "an object, or a list of them" if limits.get("one_or_many") else "a list"
        _expect(isinstance(value, list), path, wanted, value)
        return origin(read(inside[0], one, f"{path}[{place}]") for place, one in enumerate(value))
    return _within(_SCALARS[hint](value, path, limits), path, limits)


def _read_object(cls: type, value: Any, path: str) -> Any:
    _expect(isinstance(value, dict), path or "request", "an object", value)
    known = {json_name(one.name): one for one in fields(cls)}
    for name in value:
        if name not in known:
            raise BadRequest(_join(path, name), f"is not a field here. Known fields: {', '.join(known)}.")
    given = {}
    for name, one in known.items():
        if name in value:
            given[one.name] = read(hints_of(cls)[one.name], value[name], _join(path, name), one.metadata)
        elif one.default is MISSING:
            raise BadRequest(_join(path, name), f"is missing. {one.metadata['words']}")
    return cls(**given)


def _read_union(inside: tuple[Any, ...], value: Any, path: str, limits: Any) -> Any:
    if value is None and type(None) in inside:
        return None
    wanted = [one for one in inside if one is not type(None)]
    if set(wanted) == {date, datetime}:
        return _read_when(value, path)
    return read(wanted[0], value, path, limits)


def _read_text(value: Any, path: str, limits: Any) -> str:
    _expect(isinstance(value, str), path, "text", value)
    _expect(is_text(value), path, "text of whole characters: it holds half of one", "text")
    return str(value)


def is_text(value: str) -> bool:
    """Whether every character is one: JSON can name half of a surrogate pair, which nothing can print."""
    try:
        value.encode()
    except UnicodeEncodeError:
        return False
    return True


def _read_flag(value: Any, path: str, limits: Any) -> bool:
    _expect(isinstance(value, bool), path, "true or false", value)
    return bool(value)


def _read_whole(value: Any, path: str, limits: Any) -> int:
    _expect(isinstance(value, int) and not isinstance(value, bool), path, "a whole number", value)
    return int(value)


def _read_decimal(value: Any, path: str, limits: Any) -> Decimal:
    if limits.get("numbers"):
        value = _written_out(value)
    good = isinstance(value, str) and re.fullmatch(DECIMAL, value)
    _expect(bool(good), path, 'a decimal in quotes, such as "12.50"', value)
    return Decimal(value)


def _read_share(value: Any, path: str, limits: Any) -> Fraction:
    value = _written_out(value)
    good = isinstance(value, str) and re.fullmatch(SHARE, value)
    _expect(bool(good), path, 'a share such as "0.5" or "2/3"', value)
    return Fraction(value)


def _written_out(value: Any) -> Any:
    """A JSON number as its digits: 0.5 as "0.5". One too long to be meant, such as 1e999999, is left alone."""
    if isinstance(value, bool) or not isinstance(value, (int, Decimal)):
        return value
    number = Decimal(value)
    return format(number, "f") if abs(number.adjusted()) < LONGEST_NUMBER else value


def _read_day(value: Any, path: str, limits: Any) -> date:
    when = _read_when(value, path)
    if not isinstance(when, datetime):
        return when
    if not re.fullmatch(MIDNIGHT, value):
        raise BadRequest(path, "must be a day, such as 2026-03-02: hire is counted in whole days.")
    return when.date()


def _read_instant(value: Any, path: str, limits: Any) -> datetime:
    when = _read_when(value, path)
    if not isinstance(when, datetime):
        raise BadRequest(path, "must be an instant with its offset, such as 2026-03-02T07:30:00+10:00.")
    return when


def _read_time(value: Any, path: str, limits: Any) -> time:
    good = isinstance(value, str) and re.fullmatch(HOUR, value)
    _expect(bool(good), path, "an hour of the day, such as 12:00", value)
    try:
        return time.fromisoformat(value)
    except ValueError:
        raise BadRequest(path, f"must be an hour of the day, such as 12:00; it is {_shown(value)}.") from None


def _read_when(value: Any, path: str) -> date:
    wanted = "a day such as 2026-03-02, or an instant with its offset such as 2026-03-02T07:30:00+10:00"
    good = isinstance(value, str) and re.fullmatch(f"{DAY}|{INSTANT}", value)
    _expect(bool(good), path, wanted, value)
    try:
        return date.fromisoformat(value) if len(value) == len("2026-03-02") else datetime.fromisoformat(value)
    except ValueError:
        raise BadRequest(path, f"must be {wanted}; it is {_shown(value)}, which no calendar has.") from None


_SCALARS: dict[Any, Callable[[Any, str, Any], Any]] = {
    str: _read_text,
    bool: _read_flag,
    int: _read_whole,
    Decimal: _read_decimal,
    Fraction: _read_share,
    date: _read_day,
    datetime: _read_instant,
    time: _read_time,
}


def _within(value: Any, path: str, limits: Any) -> Any:
    least, most = limits.get("least"), limits.get("most")
    if least is not None and value < least:
        raise BadRequest(path, f"must be at least {least}; it is {_shown(value)}.")
    if most is not None and value > most:
        raise BadRequest(path, f"must be at most {most}; it is {_shown(value)}.")
    if limits.get("filled") and not value.strip():
        raise BadRequest(path, "must not be empty.")
    return value


def write(value: Any) -> Any:
    """`value` as JSON can hold it: the mirror of `read`."""
    if is_dataclass(value) and not isinstance(value, type):
        return {json_name(one.name): write(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, (datetime, date, time)):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, Fraction):
        return share_text(value)
    if isinstance(value, (tuple, list)):
        return [write(one) for one in value]
    if isinstance(value, frozenset):
        return sorted(write(one) for one in value)
    return value


def write_short(value: Any) -> Any:
    """As `write`, leaving out whatever holds its stated default: `read` puts it back."""
    if is_dataclass(value) and not isinstance(value, type):
        given = {one.name: getattr(value, one.name) for one in fields(value)}
        return {
            json_name(one.name): write_short(given[one.name])
            for one in fields(value)
            if one.default is MISSING or given[one.name] != one.default
        }
    if isinstance(value, (tuple, list)):
        return [write_short(one) for one in value]
    return write(value)


def share_text(share: Fraction) -> str:
    """A share as a plain decimal where four places hold it, else as a fraction: 0.5, 2/3."""
    scaled = share * 10_000
    if scaled.denominator != 1:
        return f"{share.numerator}/{share.denominator}"
    return format((Decimal(scaled.numerator) / 10_000).normalize(), "f")


def default_of(one: Field[Any]) -> Any:
    """The stated default of a field as JSON, or MISSING."""
    return MISSING if one.default is MISSING else write(one.default)


def _expect(good: bool, path: str, wanted: str, value: Any) -> None:
    if not good:
        raise BadRequest(path, f"must be {wanted}; it is {_shown(value)}.")


def _shown(value: Any) -> str:
    if isinstance(value, (str, int, Decimal, Fraction)) and not isinstance(value, bool):
        return repr(value)[:60] if isinstance(value, str) else str(value)[:60]
    return _NAMES.get(type(value), type(value).__name__)


def _list(options: Iterable[Any]) -> str:
    return ", ".join(f'"{one}"' for one in options)


def _join(path: str, name: str) -> str:
    return f"{path}.{name}" if path else str(name)
