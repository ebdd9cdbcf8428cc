"""Plain rows by plain SQL, for the path that every scan takes.

The ORM asks the same, but builds the statement and converts each value anew every time; for one scan that costs more
than the database does. Values go in and come out as Python has them, on both engines: SQLite takes times and ids as
text (and, through Django's converters, gives times back without their zone), PostgreSQL as themselves; both hand JSON
over as text.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from django.db import connection

from inventory.selectors.messages import Row, ask, holes

__all__ = ["Row", "as_json", "from_json", "holes", "moment_in", "moment_out", "rows_of", "uuid_in", "uuid_out"]


def rows_of(sql: str, params: Sequence[Any] = ()) -> list[Row]:
    return ask([(sql, params)])[0]


def _moment_from_naive(value: datetime | None) -> datetime | None:
    return None if value is None else value.replace(tzinfo=UTC)


def _moment_as_text(value: datetime | None) -> str | None:
    return None if value is None else str(value.astimezone(UTC).replace(tzinfo=None))


def _uuid_as_text(value: UUID | None) -> str | None:
    return None if value is None else value.hex


def _uuid_from_text(value: str | None) -> UUID | None:
    return None if value is None else UUID(value)


def _as_it_is(value: Any) -> Any:
    return value


def moment_out() -> Callable[[Any], Any]:
    """From what this database gives to an aware datetime."""
    return _moment_from_naive if connection.vendor == "sqlite" else _as_it_is


def moment_in() -> Callable[[Any], Any]:
    """From an aware datetime to what this database takes."""
    return _moment_as_text if connection.vendor == "sqlite" else _as_it_is


def uuid_out() -> Callable[[Any], Any]:
    return _uuid_from_text if connection.vendor == "sqlite" else _as_it_is


def uuid_in() -> Callable[[Any], Any]:
    return _uuid_as_text if connection.vendor == "sqlite" else _as_it_is


_ENCODER = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=True)


def as_json(value: Any) -> str:
    """Canonical: the order of fields does not matter."""
    return _ENCODER.encode(value)


def from_json(value: Any) -> Any:
    if value == "{}":
        return {}
    return json.loads(value) if isinstance(value, str) else value
