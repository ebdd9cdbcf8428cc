"""The figures once more, as plainly as can be, straight from the lives the ledger tells: the oracle of the sums.

Shares no code with the selectors but the words of a life; nothing is read from the summaries.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal

from inventory.figures.life import Life
from inventory.models import GearType, HiredIn, Piece, Place, RepairOrder, RepairPart, YardSettings

NUMBERS = ("casts", "damaged", "unfit", "lost", "cleans", "uncleaned")


class Fleet:
    """Every piece's row and life, read once."""

    def __init__(self, lives: dict[int, Life]) -> None:
        self.lives = lives
        self.pieces = {piece.pk: piece for piece in Piece.objects.select_related("type")}
        self.hired = set(HiredIn.objects.values_list("piece", flat=True))
        self.sites = set(Place.objects.filter(kind="site").values_list("pk", flat=True))
        self.kinds = {kind.pk: kind for kind in GearType.objects.all()}

    def key(self, by: str, pk: int, life: Life):
        piece = self.pieces[pk]
        if by == "type":
            return piece.type_id
        if by == "batch":
            return piece.maker_batch
        bought = piece.bought_on or life.on_books
        return bought.year if bought else None

    def price(self, pk: int) -> Decimal:
        piece = self.pieces[pk]
        return piece.type.replacement_value if piece.cost is None else piece.cost

    def ours(self) -> Iterable[tuple[int, Life]]:
        return ((pk, life) for pk, life in self.lives.items() if pk not in self.hired)

    def tallies(self, first: date, after: date, by: str):
        found, cast = defaultdict(Counter), defaultdict(set)
        for pk, life in self.lives.items():
            for key, month in life.months.items():
                if not first <= key.month < after:
                    continue
                group = key.place if by == "place" else self.key(by, pk, life)
                for name in NUMBERS:
                    found[group][name] += getattr(month, name)
                if month.casts:
                    cast[group].add(pk)
        return {group: (len(cast[group]), *(n[name] for name in NUMBERS)) for group, n in found.items()}

    def utilisation(self, first: date, after: date, by: str):
        out, owned = defaultdict(Decimal), defaultdict(Decimal)
        for pk, life in self.ours():
            group, price = self.key(by, pk, life), self.price(pk)
            if life.on_books is not None:
                owned[group] += price * _days(life.on_books, life.off_books, first, after)
            for stay in life.stays:
                if stay.place in self.sites:
                    out[group] += price * _days(stay.since, stay.until, first, after)
        return {group: (out[group], days) for group, days in owned.items() if days}

    def lived(self, by: str):
        """pieces, held, uses, bought, mended, cleaned, came back."""
        found = defaultdict(lambda: [0, 0, 0, Decimal(0), Decimal(0), Decimal(0), Decimal(0)])
        clean = YardSettings.current().clean_cost
        for pk, life in self.ours():
            if life.on_books is None:
                continue  # its registration was taken back
            row, piece = found[self.key(by, pk, life)], self.pieces[pk]
            row[0] += 1
            row[1] += life.ended == ""
            row[2] += life.uses - life.entry_uses
            if piece.cost is not None:
                row[3] += piece.cost
            elif piece.cut_from_id is None:
                row[3] += piece.type.replacement_value
            row[5] += clean * sum(month.cleans for month in life.months.values())
            row[6] += life.proceeds
            if piece.cut_from_id is not None and piece.cost is not None:
                parent = piece.cut_from_id
                found[self.key(by, parent, self.lives[parent])][3] -= piece.cost
        for order in RepairOrder.objects.all():
            if order.piece_id not in self.hired:
                found[self.key(by, order.piece_id, self.lives[order.piece_id])][4] += order.work_cost
        for part in RepairPart.objects.select_related("order"):
            pk = part.order.piece_id
            if pk not in self.hired:
                found[self.key(by, pk, self.lives[pk])][4] += part.unit_cost * part.quantity
        return {group: tuple(row) for group, row in found.items()}

    def out_at(self, first: date, after: date):
        """Cost times days on each site within the period."""
        found = defaultdict(Decimal)
        for pk, life in self.ours():
            for stay in life.stays:
                if stay.place in self.sites:
                    found[stay.place] += self.price(pk) * _days(stay.since, stay.until, first, after)
        return {place: days for place, days in found.items() if days}

    def spans(self, by: str):
        """Pieces under observation, by group: (uses at entry, at exit, ended there); "place" by runs of uses there."""
        found = defaultdict(Counter)
        for pk, life in self.ours():
            ended = life.ended in ("worn out", "damaged")
            if by != "place":
                found[self.key(by, pk, life)][life.entry_uses, life.uses, ended] += 1
                continue
            for at, run in enumerate(life.runs):
                found[run.place][run.entry, run.exit, ended and at == len(life.runs) - 1] += 1
        return dict(found)

    def dirty_at_the_end(self, after: datetime):
        """Pieces dirty at that moment, by place."""
        spells = (each for life in self.lives.values() for each in life.dirt)
        return Counter(
            each.place for each in spells if each.since < after and (each.until is None or each.until >= after)
        )


def _days(since: date, until: date | None, first: date, after: date) -> int:
    return max(0, (min(until or after, after) - max(since, first)).days)
