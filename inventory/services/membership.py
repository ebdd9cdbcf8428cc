"""Which pieces are in which lot, and which were cast where in which month: how those sets follow a change of a life."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from typing import Any

from inventory.figures.life import Life, MonthKey
from inventory.models import CastSet, Lot
from inventory.selectors.ledger import chunked
from inventory.selectors.piece_sets import changed
from inventory.services.lots import InLot
from inventory.services.storing import change, store


class Change:
    """Pieces that come into a set and that go out of it."""

    def __init__(self) -> None:
        self.added, self.gone = set[int](), set[int]()

    def of(self, packed: bytes | memoryview) -> bytes:
        return changed(packed, self.added, self.gone)


class Membership:
    """The sets that lives of pieces change."""

    def __init__(self) -> None:
        self.lots, self.cast = defaultdict[int, Change](Change), defaultdict[MonthKey, Change](Change)

    def put(self, piece: int, new: InLot, had: InLot | None = None) -> None:
        """Where a piece belongs now and where it did before."""
        if had is None or had.lot != new.lot:
            self.lots[new.lot].added.add(piece)
            if had is not None:
                self.lots[had.lot].gone.add(piece)
        before, after = _cast_in(had.life) if had is not None else set(), _cast_in(new.life)
        for key in after - before:
            self.cast[key].added.add(piece)
        for key in before - after:
            self.cast[key].gone.add(piece)

    def write(self) -> None:
        for some in chunked(self.lots):
            rows = Lot.objects.filter(pk__in=some).order_by().values_list("pk", "pieces")
            change(Lot, ("pieces",), [(self.lots[pk].of(packed), pk) for pk, packed in rows])
        self._write_cast()

    def _write_cast(self) -> None:
        wanted = dict(self.cast)
        months = sorted({key.month for key in wanted})
        rows = list[tuple[bytes, int]]()
        for pk, month, place, packed in _stored(months):
            if (each := wanted.pop(MonthKey(month, place), None)) is not None:
                rows.append((each.of(packed), pk))
        change(CastSet, ("pieces",), rows)
        new = [(key.month.isoformat(), key.place, each.of(b"")) for key, each in wanted.items() if each.added]
        store(CastSet, ("month", "place_id", "pieces"), new)
        CastSet.objects.filter(pieces=b"").delete()


def _cast_in(life: Life) -> set[MonthKey]:
    return {key for key, month in life.months.items() if month.casts}


def _stored(months: list[date]) -> Iterable[tuple[int, date, int | None, bytes | memoryview]]:
    if not months:
        return ()
    rows = CastSet.objects.filter(month__gte=months[0], month__lte=months[-1]).order_by()
    return list[Any](rows.values_list("pk", "month", "place", "pieces"))
