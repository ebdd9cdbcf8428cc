"""The summaries of lives read back, as the plain values they were made from."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from datetime import UTC, date, datetime
from typing import Any, NamedTuple
from uuid import UUID

from inventory.figures.life import Dirt, Halt, Life, Month, MonthKey, Run, Stay
from inventory.lifecycle.events import Key
from inventory.lifecycle.state import State
from inventory.models import PieceLife, PieceRun
from inventory.selectors.ledger import GRADES, PHASES, STANDINGS, chunked

NUMBERS = (
    "entry_uses",
    "uses",
    "on_books",
    "off_books",
    "ended",
    "proceeds",
    "inspected_at",
    "uses_since_inspected",
    "dirty_since",
    "unfit_since",
    "site",
)
"""Fields of a row in the order of `Life`."""


class Kept(NamedTuple):
    """What is kept of one piece: its lot, its life and where its walk stopped; and the text that has most of it."""

    lot: int
    life: Life
    halt: Halt
    text: str


def stored_lives(pieces: Sequence[int]) -> dict[int, Life]:
    """By piece; those never summed are not among them."""
    return {pk: kept.life for pk, kept in kept_of(pieces).items()}


def kept_of(pieces: Collection[int]) -> dict[int, Kept]:
    """By piece; those never summed are not among them."""
    found = dict[int, Kept]()
    for some in chunked(pieces):
        rows = PieceLife.objects.filter(piece__in=some).order_by()
        for pk, lot, text, entry, uses, on_books, off_books, *rest in rows.values_list(
            "piece", "lot", "told", *NUMBERS
        ):
            life = Life(entry, uses, _date(on_books), _date(off_books), *rest)
            found[pk] = Kept(lot, life, untold(text, life), text)
        runs = PieceRun.objects.filter(piece__in=some).order_by("piece", "entry", "id")
        for pk, *run in runs.values_list("piece", "place", "entry", "exit"):
            found[pk].life.runs.append(Run(*run))
    return found


def told(life: Life, halt: Halt) -> str:
    """Stays, dirt and months of a life and where its walk stopped, as text; alike for what is alike."""
    state, use = halt.state, halt.last_use
    return json.dumps(
        [
            [[stay.place, stay.since.toordinal(), ordinal(stay.until)] for stay in life.stays],
            [[dirt.place, _said(dirt.since), _said(dirt.until)] for dirt in life.dirt],
            [
                [key.month.toordinal(), key.place, m.casts, m.damaged, m.unfit, m.lost, m.cleans, m.uncleaned]
                for key, m in sorted(life.months.items(), key=lambda each: (each[0].month, each[0].place or 0))
            ],
            [
                state.standing.value,
                state.place,
                state.docket,
                state.pour,
                state.phase.value,
                state.crate,
                state.dirty,
                state.fitness.value,
                state.uses,
                state.uses_since_clean,
                _said(state.since),
                None if state.last is None else [_said(state.last[0]), *state.last[1:3], state.last[3].hex],
            ],
            None if use is None else [use.month.toordinal(), use.place],
            sorted(halt.had),
        ],
        separators=(",", ":"),
    )


def untold(text: str, life: Life) -> Halt:
    """Fills in the life what `told` has of it."""
    stays, dirt, months, state, use, had = json.loads(text)
    life.stays += [Stay(place, date.fromordinal(since), _date(until)) for place, since, until in stays]
    life.dirt += [Dirt(place, datetime.fromisoformat(since), _moment(until)) for place, since, until in dirt]
    for month, place, *numbers in months:
        life.months[MonthKey(date.fromordinal(month), place)] = Month(*numbers)
    return Halt(_state(state), None if use is None else MonthKey(date.fromordinal(use[0]), use[1]), frozenset(had))


def _state(said: Sequence[Any]) -> State:
    standing, place, docket, pour, phase, crate, dirty, fitness, uses, since_clean, since, last = said
    return State(
        STANDINGS[standing],
        place,
        docket,
        pour,
        PHASES[phase],
        crate,
        dirty,
        GRADES[fitness],
        uses,
        since_clean,
        _moment(since),
        None if last is None else Key(datetime.fromisoformat(last[0]), last[1], last[2], UUID(last[3])),
    )


def _said(moment: datetime | None) -> str | None:
    return None if moment is None else moment.astimezone(UTC).isoformat()


def _moment(said: str | None) -> datetime | None:
    return None if said is None else datetime.fromisoformat(said)


def ordinal(day: date | None) -> int | None:
    return None if day is None else day.toordinal()


def _date(day: int | None) -> date | None:
    return None if day is None else date.fromordinal(day)
