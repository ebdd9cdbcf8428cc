"""How many pieces have had how many uses, counted: how those counts follow a change of a life."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from inventory.figures.life import LIFE_ENDED
from inventory.models import SpanCount
from inventory.selectors.ledger import chunked
from inventory.services.lots import InLot, LotFacts
from inventory.services.storing import add_up


class SpanCell(NamedTuple):
    """The fields of a `SpanCount` but its count."""

    by: str
    type_id: int | None
    maker_batch: str
    year: int | None
    place_id: int | None
    entry: int
    exit: int
    ended: str
    fit: bool

    @property
    def words(self) -> str:
        return "|".join(str(value) for value in self)


class Spans:
    """Counts that lives add to; `facts` are those of the lots they are in."""

    def __init__(self, facts: Mapping[int, LotFacts]) -> None:
        self._facts, self.counts = facts, Counter[SpanCell]()

    def put(self, new: InLot, had: InLot | None = None) -> None:
        """What a life counts for beyond what it did before."""
        before = [] if had is None else list(self._cells(had))
        after = list(self._cells(new))
        if before != after:
            self.counts.update(after)
            self.counts.subtract(before)

    def write(self) -> None:
        counts = {cell: n for cell, n in self.counts.items() if n}
        rows = [(cell.words, *cell, n) for cell, n in sorted(counts.items(), key=lambda each: each[0].words)]
        add_up(SpanCount, ("cell", *SpanCell._fields, "n"), rows, key="cell", count="n")
        for some in chunked(cell.words for cell, n in counts.items() if n < 0):
            SpanCount.objects.filter(cell__in=some, n=0).delete()

    def _cells(self, one: InLot) -> Iterator[SpanCell]:
        """Somebody else's gear says nothing of how long it lasts: it goes back."""
        lot, life = self._facts[one.lot], one.life
        if not lot.ours:
            return
        span = (life.entry_uses, life.uses, life.ended, life.ended == "" and life.unfit_since is None)
        yield SpanCell("type", lot.type, "", None, None, *span)
        yield SpanCell("batch", None, lot.maker_batch, None, None, *span)
        yield SpanCell("age", None, "", lot.year, None, *span)
        over = life.ended if life.ended in LIFE_ENDED else ""
        last = len(life.runs) - 1
        for at, run in enumerate(life.runs):
            ended = over if at == last else ""
            yield SpanCell("place", None, "", None, run.place, run.entry, run.exit, ended, False)
