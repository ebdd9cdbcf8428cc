"""The JSON Schema of the request, made from the fields themselves so that it cannot fall behind them.

``python -m jobs.hire.schema > docs/schemas/price_hire.request.json`` writes it; a test compares the two.
"""

from __future__ import annotations

import json
import sys
import types
import typing
from dataclasses import MISSING, Field, fields, is_dataclass
from datetime import date, datetime, time
from decimal import Decimal
from fractions import Fraction
from typing import Any, Literal, Union

from jobs.hire.codec import DAY, DECIMAL, HOUR, INSTANT, MIDNIGHT, SHARE, default_of, hints_of, json_name
from jobs.hire.request import PriceRequest

_SCALARS: dict[Any, dict[str, Any]] = {
    str: {"type": "string"},
    bool: {"type": "boolean"},
    int: {"type": "integer"},
    Decimal: {"type": "string", "pattern": f"^{DECIMAL}$"},
    date: {"type": "string", "pattern": f"^({DAY}|{MIDNIGHT})$"},
    datetime: {"type": "string", "pattern": f"^{INSTANT}$"},
    time: {"type": "string", "pattern": f"^{HOUR}$"},
}
_PER_CENT = r"(0{0,16}100(\.0{1,12})?|0{0,16}[0-9]{1,2}(\.[0-9]{1,12})?)"
_NULL = {"type": "null"}


def schema() -> dict[str, Any]:
    """The schema of a `price_hire` request."""
    found: dict[str, Any] = {}
    top = _object(PriceRequest, found)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "price_hire request",
        "description": "What `manage.py price_hire` reads. Money is a decimal string; periods are half-open "
        "days [from, until); a day is 2026-03-02, an instant carries its offset, 2026-03-02T07:30:00+10:00.",
        **top,
        "$defs": dict(sorted(found.items())),
    }


def _object(cls: type, found: dict[str, Any]) -> dict[str, Any]:
    needed = [json_name(one.name) for one in fields(cls) if one.default is MISSING]
    return {
        "description": (cls.__doc__ or "").split("\n\n")[0],
        "type": "object",
        "properties": {json_name(one.name): _property(cls, one, found) for one in fields(cls)},
        "required": needed,
        "additionalProperties": False,
    }


def _property(cls: type, one: Field[Any], found: dict[str, Any]) -> dict[str, Any]:
    shape = {"description": one.metadata["words"], **_shape(hints_of(cls)[one.name], one.metadata, found)}
    default = default_of(one)
    if one.metadata.get("one_or_many"):
        shape = {"description": shape["description"], "anyOf": [shape["items"], {**shape}]}
        default = {}
    return shape if default is MISSING else {**shape, "default": default}


def _shape(hint: Any, limits: Any, found: dict[str, Any]) -> dict[str, Any]:
    if is_dataclass(hint):
        name = typing.cast(type, hint).__name__
        if name not in found:
            found[name] = {}
            found[name] = _object(typing.cast(type, hint), found)
        return {"$ref": f"#/$defs/{name}"}
    origin, inside = typing.get_origin(hint), typing.get_args(hint)
    if origin in (Union, types.UnionType):
        return {"anyOf": [_NULL if one is type(None) else _shape(one, limits, found) for one in inside]}
    if origin is Literal:
        return {"enum": list(inside)}
    if origin in (tuple, frozenset):
        return {"type": "array", "items": _shape(inside[0], {}, found)}
    return _limited(hint, limits)


def _limited(hint: Any, limits: Any) -> dict[str, Any]:
    bounds = {word: limits[key] for word, key in (("minimum", "least"), ("maximum", "most")) if key in limits}
    if hint is Fraction:
        share = {"type": "string", "pattern": f"^{SHARE}$"}
        return {"anyOf": [share, {"type": "number", "minimum": 0, **bounds}]}
    shape = dict(_SCALARS[hint])
    if hint is int:
        shape |= bounds
    if hint is Decimal and limits.get("least") == 0:
        shape["pattern"] = f"^{_PER_CENT if limits.get('most') == 100 else DECIMAL.removeprefix('-?')}$"
    if hint is str and limits.get("filled"):
        shape |= {"minLength": 1, "pattern": "\\S"}
    if limits.get("numbers"):
        return {"anyOf": [shape, {"type": "number", **bounds}]}
    return shape


if __name__ == "__main__":
    json.dump(schema(), sys.stdout, indent=2)
    sys.stdout.write("\n")
