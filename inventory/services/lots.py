"""Lots and their months: what lives add to the sums that the figures read, and how those sums follow a change.

A life adds the same whatever else is summed; so when a piece is summed anew what its old life added is taken off and
what its new one adds is put on, and the sums stay exactly those of the whole ledger.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, date, datetime, timedelta
from functools import cache
from typing import Any, NamedTuple

from django.utils import timezone

from inventory.figures.life import Dirt, Life, Stay
from inventory.models import Lot, LotMonth, Piece, PieceLife
from inventory.selectors.ledger import chunked
from inventory.selectors.periods import month_after, month_end
from inventory.services.storing import change, store

COUNTS = ("casts", "damaged", "unfit", "lost", "cleans", "uncleaned")
SUMS = (
    *COUNTS,
    "came",
    "came_days",
    "left",
    "left_days",
    "bought",
    "bought_days",
    "gone",
    "gone_days",
    "soiled",
    "shed",
    "soiled_us",
    "shed_us",
    "stayed_us",
)


class Cell(NamedTuple):
    lot: int
    place: int | None
    month: date


class InLot(NamedTuple):
    """A life, and the lot it is summed in."""

    lot: int
    life: Life


class Shares:
    """What lives add to the months of their lots."""

    def __init__(self) -> None:
        self.cells: dict[Cell, Counter[str]] = {}
        self._day, self._month_end = days_here(), _month_ends()

    def put(self, new: InLot, had: InLot | None = None) -> None:
        """What a life adds beyond what it had added before."""
        moved = had is None or had.lot != new.lot
        if had is not None and (moved or had.life.months != new.life.months):
            self._months(had, -1)
        if moved or had is None or had.life.months != new.life.months:
            self._months(new, 1)
        for part, add in ((_stays, self._stay), (_dirt, self._spell), (_books, self._book)):
            before, after = () if had is None else part(had.life), part(new.life)
            if moved or before != after:
                if had is not None:
                    for each in before:
                        add(had.lot, each, -1)
                for each in after:
                    add(new.lot, each, 1)

    def _months(self, one: InLot, sign: int) -> None:
        for key, month in one.life.months.items():
            cell = self._cell(one.lot, key.place, key.month)
            for name in COUNTS:
                if number := getattr(month, name):
                    cell[name] += sign * number

    def _stay(self, lot: int, stay: Stay, sign: int) -> None:
        self._mark(lot, stay.place, "came", stay.since, sign)
        self._mark(lot, stay.place, "left", stay.until, sign)

    def _book(self, lot: int, book: tuple[str, date | None], sign: int) -> None:
        self._mark(lot, None, book[0], book[1], sign)

    def _mark(self, lot: int, place: int | None, what: str, day: date | None, sign: int) -> None:
        """One piece on that day, and the days from it to the end of its month."""
        if day is not None:
            cell = self._cell(lot, place, day.replace(day=1))
            cell[what] += sign
            cell[f"{what}_days"] += sign * (month_after(day) - day).days

    def _spell(self, lot: int, each: Dirt, sign: int) -> None:
        self._moment(lot, each.place, "soiled", each.since, sign)
        if each.until is not None:
            cell = self._moment(lot, each.place, "shed", each.until, sign)
            cell["stayed_us"] += sign * ((each.until - each.since) // MICROSECOND)

    def _moment(self, lot: int, place: int | None, what: str, when: datetime, sign: int) -> Counter[str]:
        """One piece at that moment, and the time from it to the end of its month."""
        month = self._day(when).replace(day=1)
        cell = self._cell(lot, place, month)
        cell[what] += sign
        cell[f"{what}_us"] += sign * ((self._month_end(month) - when.astimezone(UTC)) // MICROSECOND)
        return cell

    def _cell(self, lot: int, place: int | None, month: date) -> Counter[str]:
        cell = Cell(lot, place, month)
        if cell not in self.cells:
            self.cells[cell] = Counter()
        return self.cells[cell]


MICROSECOND = timedelta(microseconds=1)


def _stays(life: Life) -> list[Any]:
    return life.stays


def _dirt(life: Life) -> list[Any]:
    return life.dirt


def _books(life: Life) -> list[Any]:
    return [("bought", life.on_books), ("gone", life.off_books)]


def days_here() -> Callable[[datetime], date]:
    """The yard's own day of a moment; the zone is looked up once."""
    zone = timezone.get_current_timezone()
    return lambda when: when.astimezone(zone).date()


def _month_ends() -> Callable[[date], datetime]:
    return cache(month_end)


def put(shares: Shares) -> None:
    """Add these to the stored months; only what changes is written."""
    wanted = {cell: numbers for cell, numbers in shares.cells.items() if any(numbers.values())}
    alike, gone = defaultdict[tuple[str, ...], list[tuple[int, ...]]](list), list[int]()
    for pk, cell, had in _stored(wanted):
        more = wanted.pop(cell)
        changed = tuple(name for name in SUMS if more[name])
        if all(had[name] + more[name] == 0 for name in SUMS):
            gone.append(pk)
        else:
            alike[changed].append((*(had[name] + more[name] for name in changed), pk))
    for names, rows in alike.items():
        change(LotMonth, names, rows)
    for some in chunked(gone):
        LotMonth.objects.filter(pk__in=some).delete()
    new = [(c.lot, c.place, c.month.isoformat(), *(more[name] for name in SUMS)) for c, more in wanted.items()]
    store(LotMonth, ("lot_id", "place_id", "month", *SUMS), new)


def _stored(wanted: Mapping[Cell, Any]) -> Iterable[tuple[int, Cell, dict[str, int]]]:
    """The rows there are of these cells."""
    months, found = {cell.month for cell in wanted}, list[tuple[int, Cell, dict[str, int]]]()
    for lots in chunked(sorted({cell.lot for cell in wanted})):
        rows = LotMonth.objects.filter(lot__in=lots, month__in=months).order_by()
        for pk, lot, place, month, *numbers in rows.values_list("pk", "lot", "place", "month", *SUMS):
            if (cell := Cell(lot, place, month)) in wanted:
                found.append((pk, cell, dict(zip(SUMS, numbers, strict=True))))
    return found


class LotFacts(NamedTuple):
    """What the counts of spans group by."""

    type: int
    maker_batch: str
    year: int | None
    ours: bool


def facts_of(lots: Iterable[int]) -> dict[int, LotFacts]:
    found = {}
    for some in chunked(set(lots)):
        rows = Lot.objects.filter(pk__in=some).order_by()
        for pk, kind, batch, year, ours in rows.values_list("pk", "type", "maker_batch", "year", "ours"):
            found[pk] = LotFacts(kind, batch, year, ours)
    return found


ABOUT = ("type", "maker_batch", "bought_on", "cost", "cut_from", "hired_in")


def lots_of(lives: Mapping[int, Life]) -> dict[int, int]:
    """The lot of each piece, made where there is none like it yet."""
    said = {}
    for ids in chunked(lives):
        for row in Piece.objects.filter(pk__in=ids).order_by().values("pk", *ABOUT):
            said[row["pk"]] = _about(row, lives[row["pk"]].on_books)
    return _numbered(said)


def _about(row: Mapping[str, Any], on_books: date | None) -> dict[str, Any]:
    when = row["bought_on"] or on_books
    return {
        "type_id": row["type"],
        "maker_batch": row["maker_batch"],
        "year": when.year if when else None,
        "dated": row["bought_on"] is not None,
        "cost": row["cost"],
        "ours": row["hired_in"] is None,
        "part": row["cut_from"] is not None,
    }


def _numbered(said: Mapping[int, dict[str, Any]]) -> dict[int, int]:
    keys = {pk: "|".join(str(value) for value in about.values()) for pk, about in said.items()}
    wanted = {keys[pk]: about for pk, about in said.items()}
    known = dict[str, int]()
    for some in chunked(wanted):
        known |= dict(Lot.objects.filter(key__in=some).values_list("key", "pk"))
    Lot.objects.bulk_create([Lot(key=key, **about) for key, about in wanted.items() if key not in known])
    for some in chunked([key for key in wanted if key not in known]):
        known |= dict(Lot.objects.filter(key__in=some).values_list("key", "pk"))
    return {pk: known[key] for pk, key in keys.items()}


def entered_anew(pieces: Iterable[int]) -> None:
    """For whoever writes what lots are made of: these pieces find their lots anew when figures are next asked for."""
    for some in chunked(pieces):
        PieceLife.objects.filter(pk__in=some).update(entered_anew=True)


def strays(most: int) -> list[int]:
    """The first so many summed pieces that may belong in another lot."""
    rows = PieceLife.objects.filter(entered_anew=True).order_by("pk")
    return list(rows.values_list("pk", flat=True)[:most])
