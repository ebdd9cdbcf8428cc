"""Checks a request read from JSON against its published schema, and says the first fault in a sentence.

The schemas in `docs/schemas` are what outside programs write against, so they are what is checked against:
JSON Schema draft 2020-12. Faults are raised as `BadRequest` with the place, such as ``runs[3].until``.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from jobs.errors import BadRequest

FOLDER = Path(__file__).resolve().parents[2] / "docs" / "schemas"
WHOLE = "the request"

_KINDS = {
    "integer": "a whole number",
    "number": "a number",
    "string": "text",
    "object": "an object",
    "array": "a list",
    "boolean": "true or false",
    "null": "null",
}


@cache
def schema(name: str) -> dict[str, Any]:
    """The published schema called `name`, such as ``check_cover.request``."""
    loaded: dict[str, Any] = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    return loaded


@cache
def _validator(name: str) -> Draft202012Validator:
    return Draft202012Validator(schema(name))


def read_json(text: str | bytes) -> Any:
    """JSON as strictly as its standard (RFC 8259) has it: no NaN, no Infinity, no name twice in an object."""

    def refuse(word: str) -> Any:
        raise BadRequest(WHOLE, f"holds {word}, which JSON does not have; write a number.")

    def unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for key, value in pairs:
            if key in found:
                raise BadRequest(key, "stands twice in one object; keep one of them.")
            found[key] = value
        return found

    try:
        return json.loads(text, parse_constant=refuse, object_pairs_hook=unique)
    except json.JSONDecodeError as fault:
        where = f"line {fault.lineno}, column {fault.colno}"
        raise BadRequest(WHOLE, f"is not JSON at {where}: {fault.msg}.") from None
    except UnicodeDecodeError:
        raise BadRequest(WHOLE, "is not UTF-8 text; save it as UTF-8.") from None
    except RecursionError:
        raise BadRequest(WHOLE, "is nested too deeply to be a request.") from None
    except ValueError as fault:
        raise BadRequest(WHOLE, f"holds a number that cannot be read: {fault}.") from None


def require_valid(name: str, data: Any) -> None:
    """Raise `BadRequest` for the first fault of `data` against the schema, in the order of the document."""
    fault = next(iter(_validator(name).iter_errors(data)), None)
    if fault is not None:
        fault = _deepest(fault)
        field, sentence = _explain(fault)
        raise BadRequest(field, sentence)


def _deepest(fault: ValidationError) -> ValidationError:
    while fault.context:
        fault = fault.context[0]
    return fault


def field_path(path: Iterable[str | int]) -> str:
    """The place in a document as people write it.

    >>> field_path(["runs", 3, "until"])
    'runs[3].until'
    """
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text or WHOLE


def _explain(fault: Any) -> tuple[str, str]:
    path = list(fault.absolute_path)
    keyword = str(fault.validator)
    if keyword == "required":
        missing = next(key for key in fault.validator_value if key not in fault.instance)
        return field_path([*path, missing]), "is missing; give it."
    if keyword == "additionalProperties":
        known = fault.schema["properties"]
        extra = next(key for key in fault.instance if key not in known)
        return field_path([*path, str(extra)]), f"is not known here; known are {', '.join(known)}."
    return field_path(path), _SENTENCES.get(keyword, lambda error: f"{error.message}.")(fault)


def _wrong_type(fault: Any) -> str:
    wanted = fault.validator_value
    names = [wanted] if isinstance(wanted, str) else list(wanted)
    return f"must be {' or '.join(_KINDS[name] for name in names)}, not {_shown(fault.instance)}."


def _shown(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 60 else f"{text[:57]}..."


_SENTENCES: dict[str, Callable[[Any], str]] = {
    "type": _wrong_type,
    "enum": lambda e: f"must be one of {', '.join(map(_shown, e.validator_value))}, not {_shown(e.instance)}.",
    "minimum": lambda e: f"must be {e.validator_value} or more, not {_shown(e.instance)}.",
    "maximum": lambda e: f"must be {e.validator_value} or less, not {_shown(e.instance)}.",
    "exclusiveMinimum": lambda e: f"must be more than {e.validator_value}, not {_shown(e.instance)}.",
    "minLength": lambda e: "must not be empty.",
    "minItems": lambda e: f"must have at least {e.validator_value} entries.",
    "items": lambda e: f"has more entries than it may: {_shown(e.instance)}.",
    "pattern": lambda e: f"must be a day such as 2027-03-01, not {_shown(e.instance)}.",
}
