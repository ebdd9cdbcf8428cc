"""Lots and their months: what lives add to the sums that the figures read, and how those sums follow a change.

A life adds the same whatever else is summed; so when a piece is summed anew what its old life added is taken off and
what its new one adds is put on, and the sums stay exactly those of the whole ledger.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from typing import Any, NamedTuple

from django.db.models import Q
from django.utils import timezone

from inventory.figures.life import Life
from inventory.models import Lot, LotMonth, Piece, PieceLife
from inventory.selectors.figures import month_after
from inventory.selectors.ledger import chunked

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
)


class Cell(NamedTuple):
    lot: int
    place: int | None
    month: date


Shares = dict[Cell, Counter[str]]


def add_shares(found: Shares, lot: int, life: Life, day: Callable[[datetime], date], sign: int = 1) -> None:
    """What one life adds to the months of its lot (`sign` -1: takes off); `day` is the local day of a moment."""
    for key, month in life.months.items():
        cell = found.setdefault(Cell(lot, key.place, key.month), Counter())
        for name in COUNTS:
            cell[name] += sign * getattr(month, name)
    for stay in life.stays:
        _mark(found, lot, stay.place, "came", stay.since, sign)
        _mark(found, lot, stay.place, "left", stay.until, sign)
    for each in life.dirt:
        _count(found, lot, each.place, "soiled", day(each.since), sign)
        _count(found, lot, each.place, "shed", day(each.until) if each.until else None, sign)
    _mark(found, lot, None, "bought", life.on_books, sign)
    _mark(found, lot, None, "gone", life.off_books, sign)


def _mark(found: Shares, lot: int, place: int | None, what: str, day: date | None, sign: int) -> None:
    """One piece on that day, and the days from it to the end of its month."""
    if day is not None:
        cell = _count(found, lot, place, what, day, sign)
        cell[f"{what}_days"] += sign * (month_after(day) - day).days


def _count(found: Shares, lot: int, place: int | None, what: str, day: date | None, sign: int) -> Counter[str]:
    if day is None:
        return Counter()
    cell = found.setdefault(Cell(lot, place, day.replace(day=1)), Counter())
    cell[what] += sign
    return cell


def days_here() -> Callable[[datetime], date]:
    """The yard's own day of a moment; the zone is looked up once."""
    zone = timezone.get_current_timezone()
    return lambda when: when.astimezone(zone).date()


def put(shares: Shares) -> None:
    """Add these to the stored months. The rows that change are written anew, which is soonest on either engine."""
    changed = {cell: numbers for cell, numbers in shares.items() if any(numbers.values())}
    rows, gone = dict[Cell, dict[str, int]](), list[int]()
    months = {cell.month for cell in changed}
    for lots in chunked(sorted({cell.lot for cell in changed})):
        stored = LotMonth.objects.filter(lot__in=lots, month__in=months).order_by()
        for pk, lot, place, month, *numbers in stored.values_list("pk", "lot", "place", "month", *SUMS):
            cell = Cell(lot, place, month)
            if cell in changed:
                rows[cell] = dict(zip(SUMS, numbers, strict=True))
                gone.append(pk)
    for some in chunked(gone):
        LotMonth.objects.filter(pk__in=some).delete()
    new = [_row(cell, rows.get(cell, {}), numbers) for cell, numbers in changed.items()]
    LotMonth.objects.bulk_create([row for row in new if any(getattr(row, name) for name in SUMS)], batch_size=1000)


def _row(cell: Cell, had: Mapping[str, int], more: Mapping[str, int]) -> LotMonth:
    numbers = {name: more.get(name, 0) + had.get(name, 0) for name in SUMS}
    return LotMonth(lot_id=cell.lot, place_id=cell.place, month=cell.month, **numbers)


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
    rows = PieceLife.objects.filter(Q(lot=None) | Q(entered_anew=True)).order_by("pk")
    return list(rows.values_list("pk", flat=True)[:most])
