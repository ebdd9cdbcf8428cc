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

_DECIMAL = re.compile(r"-?\d{1,18}(\.\d{1,12})?")
_SHARE = re.compile(r"\d{1,9}(\.\d{1,12}|/[1-9]\d{0,8})?")
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
        _expect(isinstance(value, list), path, "a list", value)
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
    return str(value)


def _read_flag(value: Any, path: str, limits: Any) -> bool:
    _expect(isinstance(value, bool), path, "true or false", value)
    return bool(value)


def _read_whole(value: Any, path: str, limits: Any) -> int:
    _expect(isinstance(value, int) and not isinstance(value, bool), path, "a whole number", value)
    return int(value)


def _read_decimal(value: Any, path: str, limits: Any) -> Decimal:
    if limits.get("numbers") and isinstance(value, (int, Decimal)) and not isinstance(value, bool):
        value = format(value, "f")
    good = isinstance(value, str) and _DECIMAL.fullmatch(value)
    _expect(bool(good), path, 'a decimal in quotes, such as "12.50"', value)
    return Decimal(value)


def _read_share(value: Any, path: str, limits: Any) -> Fraction:
    if isinstance(value, (int, Decimal)) and not isinstance(value, bool):
        value = format(value, "f")
    good = isinstance(value, str) and _SHARE.fullmatch(value)
    _expect(bool(good), path, 'a share such as "0.5" or "2/3"', value)
    return Fraction(value)


def _read_day(value: Any, path: str, limits: Any) -> date:
    when = _read_when(value, path)
    if not isinstance(when, datetime):
        return when
    if when.time() != time(0):
        raise BadRequest(path, "must be a day, such as 2026-03-02: hire is counted in whole days.")
    return when.date()


def _read_instant(value: Any, path: str, limits: Any) -> datetime:
    when = _read_when(value, path)
    if not isinstance(when, datetime):
        raise BadRequest(path, "must be an instant with its offset, such as 2026-03-02T07:30:00+10:00.")
    return when


def _read_time(value: Any, path: str, limits: Any) -> time:
    try:
        found = time.fromisoformat(value)
    except (TypeError, ValueError):
        raise BadRequest(path, f"must be an hour of the day, such as 12:00; it is {_shown(value)}.") from None
    _expect(found.tzinfo is None, path, "an hour without an offset, such as 12:00", value)
    return found


def _read_when(value: Any, path: str) -> date:
    wanted = "a day such as 2026-03-02, or an instant with its offset such as 2026-03-02T07:30:00+10:00"
    _expect(isinstance(value, str), path, wanted, value)
    try:
        if len(value) <= 10:
            return date.fromisoformat(value)
        found = datetime.fromisoformat(value)
    except ValueError:
        raise BadRequest(path, f"must be {wanted}; it is {_shown(value)}.") from None
    _expect(found.tzinfo is not None, path, wanted, value)
    return found


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
