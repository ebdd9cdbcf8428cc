"""What goes to PostgreSQL in one message, since each message is a way there and back.

Several questions can be asked at once, and what is told inside `together` waits until something is asked, or until the
end. Whatever else the connection is asked meanwhile, through the ORM too, goes after what waits: nothing is ever read
too early. Each statement of a message sees what was committed before it began, as if it had come by itself. It needs
the driver's client-side binding, which is Django's default. SQLite has no way to go, and gets each statement at once.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.db import connection

Row = tuple[Any, ...]
Statement = tuple[str, Sequence[Any]]
AT_ONCE = 5000
"""Ids in one question; SQLite takes 32,766 parameters."""

_WAITING: ContextVar[list[Statement] | None] = ContextVar("waiting", default=None)


class Questions:
    """Questions gathered to be asked in one message. Each gives a call for its rows, to be made once all are asked."""

    def __init__(self) -> None:
        self._asked, self._answers = list[Statement](), list[list[Row]]()

    def rows(self, sql: str, params: Sequence[Any] = ()) -> Callable[[], list[Row]]:
        at = len(self._asked)
        self._asked.append((sql, params))
        return lambda: self._answers[at]

    def rows_of_all(self, sql: str, values: Collection[Any]) -> Callable[[], list[Row]]:
        """`sql` has {} for the inside of IN (...). No values, no question."""
        everything = list(values)
        parts = [everything[start : start + AT_ONCE] for start in range(0, len(everything), AT_ONCE)]
        calls = [self.rows(sql.format(holes(part)), part) for part in parts]
        return lambda: [row for call in calls for row in call()]

    def ask(self) -> None:
        self._answers = ask(self._asked)


def holes(values: Collection[Any]) -> str:
    """The inside of IN (...): one hole for each value."""
    return ", ".join(["%s"] * len(values))


def ask(questions: Sequence[Statement]) -> list[list[Row]]:
    """The rows of each question, in their order."""
    if connection.vendor != "postgresql":
        return [_rows([question], skip=0)[0] for question in questions]
    if not questions:
        return []
    waiting = _taken_from_waiting()
    return _rows([*waiting, *questions], skip=len(waiting))


def tell(sql: str, params: Sequence[Any] = ()) -> None:
    """Run a statement whose result nobody wants."""
    if (waiting := _WAITING.get()) is not None:
        waiting.append((sql, params))
        return
    with connection.cursor() as cursor:
        cursor.execute(sql, params)


@contextmanager
def together() -> Iterator[None]:
    """What is told inside waits for the next question or for the end. If something fails, what waits is not sent."""
    if connection.vendor != "postgresql" or _WAITING.get() is not None:
        yield
        return
    before = _WAITING.set([])
    try:
        with connection.execute_wrapper(_after_what_waits):
            yield
            _send_what_waits()
    finally:
        _WAITING.reset(before)


def _rows(statements: Sequence[Statement], *, skip: int) -> list[list[Row]]:
    sql, params = _joined(statements)
    found = []
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        for at in range(len(statements)):
            if at:
                cursor.nextset()
            if at >= skip:
                found.append(cursor.fetchall())
    return found


def _joined(statements: Sequence[Statement]) -> Statement:
    return "; ".join(sql for sql, _ in statements), [value for _, values in statements for value in values]


def _taken_from_waiting() -> list[Statement]:
    waiting = _WAITING.get() or []
    taken = list(waiting)
    waiting.clear()
    return taken


def _send_what_waits() -> None:
    if waiting := _taken_from_waiting():
        with connection.cursor() as cursor:
            cursor.execute(*_joined(waiting))


def _after_what_waits(execute: Callable[..., Any], sql: Any, params: Any, many: bool, context: Any) -> Any:
    _send_what_waits()
    return execute(sql, params, many, context)
