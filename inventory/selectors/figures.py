"""Sums over the summaries of lives: by type, age, maker batch, place, or what a place leads to; exact.

Whole numbers come from the months of lots, which are few however many pieces and events there are; money is summed as
Decimal in Python over counts of like amounts, since SQLite would add it up in floating point.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Count, F, Q, Sum

from inventory.figures.cost import Spent
from inventory.figures.utilisation import Days, Utilisation, time_utilisation
from inventory.models import LotMonth, Piece, PieceLife, PieceRun, RepairOrder, RepairPart, SpanCount
from inventory.selectors.lot_sums import NUMBERS, ON_SITES, LotSums, days, lot_sums
from inventory.selectors.periods import Period
from inventory.selectors.piece_sets import used_at_places, used_of_lots

Key = Hashable


@dataclass(frozen=True, slots=True)
class Tally:
    """What happened to a group of pieces: those cast, casts, and how many were followed by damage, loss, cleaning."""

    pieces: int = 0
    casts: int = 0
    damaged: int = 0
    unfit: int = 0
    lost: int = 0
    cleans: int = 0
    uncleaned: int = 0
    ours: int = 0

    def __add__(self, other: Tally) -> Tally:
        return Tally(*(getattr(self, name) + getattr(other, name) for name in self.__slots__))


GROUPS = {"type": "lot__type", "batch": "lot__maker_batch", "age": "lot__year"}
"""How pieces are grouped: age is the year a piece was bought, or came on the books. Any other word is taken for a field
of the month itself, such as "place", or what its place leads to."""


SPAN_FIELDS = {"type": "type", "batch": "maker_batch", "age": "year"}
"""The same groups as fields of `SpanCount`."""


def _path(by: str) -> str:
    return GROUPS.get(by, by)


def tallies(period: Period, by: str, lots: Lots = None) -> dict[Key, Tally]:
    """By type, batch or age, or by a field of the month. `lots` are those of the period, where they are at hand."""
    used = _used(period, by)
    if by not in GROUPS:
        return dict(_tallied(period, by, used))
    found: dict[Key, Counter[str]] = defaultdict(Counter)
    for lot in _lots(lots, period):
        counts = found[getattr(lot, by)]
        for name in NUMBERS:
            counts[name] += getattr(lot, name)
        counts["ours"] += lot.casts if lot.ours else 0
    return {key: Tally(used[key], **counts) for key, counts in found.items() if any(counts.values())}


Lots = Sequence[LotSums] | None


def _lots(lots: Lots, period: Period) -> Sequence[LotSums]:
    return lot_sums(period) if lots is None else lots


def casts_of_ours(period: Period, by: str, lots: Lots = None) -> Counter[Key]:
    """Casts with gear of our own: what `tallies` has of them, without counting the pieces."""
    found: Counter[Key] = Counter()
    for lot in _lots(lots, period):
        if lot.ours:
            found[getattr(lot, by)] += lot.casts
    return found


def casts_by_place_and_type(period: Period, place: str) -> dict[tuple[Key, Key], int]:
    rows = LotMonth.objects.filter(month__gte=period.first, month__lt=period.after, casts__gt=0).order_by()
    return {(key, kind): n for key, kind, n in rows.values_list(place, GROUPS["type"]).annotate(n=Sum("casts"))}


def _tallied(period: Period, by: str, used: Counter[Key]) -> Iterable[tuple[Any, Tally]]:
    rows = LotMonth.objects.filter(month__gte=period.first, month__lt=period.after).order_by()
    ours = Sum("casts", filter=Q(lot__ours=True), default=0)
    for key, *numbers in rows.values_list(by).annotate(*(Sum(name) for name in NUMBERS), ours=ours):
        if any(numbers):
            yield key, Tally(used[key], *numbers)


def _used(period: Period, by: str) -> Counter[Key]:
    """Pieces that were cast in the period, each once in a group."""
    if by in GROUPS:
        return used_of_lots(*period, GROUPS[by].removeprefix("lot__"))
    return used_at_places(*period, by)


NOTHING_SPENT = Spent()


@dataclass(frozen=True, slots=True)
class Lived:
    """All that pieces of a group have cost and done since they came on the books.

    pieces    ours; held of them are still on the books; unpriced: whose cost is not known, so that the replacement
              value of their type is taken
    mass_kg   of all of them; rated uses of all of them by the maker's figure, which `with_rating` of them have
    """

    pieces: int = 0
    held: int = 0
    uses: int = 0
    unpriced: int = 0
    spent: Spent = NOTHING_SPENT
    mass_kg: Decimal = Decimal(0)
    rated: int = 0
    with_rating: int = 0


def lived(by: str, clean_cost: Decimal, lots: Lots = None) -> dict[Key, Lived]:
    """By type, batch or age. What was paid for a length that was cut goes with its parts, by length.

    `clean_cost` is what one cleaning costs.
    """
    found: dict[Key, Lived] = defaultdict(Lived)
    for lot in _lots(lots, Period(date(1970, 1, 1), date(1970, 1, 1))):
        if lot.ours:
            found[getattr(lot, by)] = _with(found[getattr(lot, by)], lot, clean_cost)
    for key, amount in _moved(by).items():
        _add(found, key, bought=-amount)
    for key, amount in _mended(by).items():
        _add(found, key, mended=amount)
    for key, amount in _proceeds(by).items():
        _add(found, key, came_back=amount)
    return {key: one for key, one in found.items() if one != Lived()}


def _add(found: dict[Key, Lived], key: Key, **more: Decimal) -> None:
    spent = found[key].spent
    found[key] = replace(found[key], spent=replace(spent, **{n: getattr(spent, n) + a for n, a in more.items()}))


def _with(had: Lived, lot: LotSums, clean_cost: Decimal) -> Lived:
    spent = had.spent
    return Lived(
        had.pieces + lot.bought,
        had.held + lot.bought - lot.gone,
        had.uses + lot.all_casts,
        had.unpriced + (lot.bought if lot.cost is None else 0),
        replace(
            spent, bought=spent.bought + lot.paid * lot.bought, cleaned=spent.cleaned + clean_cost * lot.all_cleans
        ),
        had.mass_kg + lot.mass_kg * lot.bought,
        had.rated + (lot.rated or 0) * lot.bought,
        had.with_rating + (lot.bought if lot.rated else 0),
    )


def _moved(by: str) -> dict[Key, Decimal]:
    rows = Piece.objects.filter(cut_from__isnull=False, cost__isnull=False).order_by()
    return _amounts(rows.values_list(f"cut_from__life__{_path(by)}", "cost").annotate(n=Count("pk")))


def _mended(by: str) -> dict[Key, Decimal]:
    rows = RepairOrder.objects.filter(work_cost__gt=0, piece__hired_in=None).order_by()
    work = _amounts(rows.values_list(f"piece__life__{_path(by)}", "work_cost").annotate(n=Count("pk")))
    parts = RepairPart.objects.filter(order__piece__hired_in=None).order_by()
    goods = _amounts(parts.values_list(f"order__piece__life__{_path(by)}", "unit_cost").annotate(n=Sum("quantity")))
    return {key: work.get(key, Decimal(0)) + goods.get(key, Decimal(0)) for key in {*work, *goods}}


def _proceeds(by: str) -> dict[Key, Decimal]:
    rows = PieceLife.objects.filter(proceeds__gt=0, lot__ours=True).order_by()
    return _amounts(rows.values_list(_path(by), "proceeds").annotate(n=Count("pk")))


def _amounts(rows: Iterable[tuple[Key, Decimal, int]]) -> dict[Key, Decimal]:
    found: dict[Key, Decimal] = defaultdict(Decimal)
    for key, amount, n in rows:
        found[key] += amount * n
    return dict(found)


def utilisation(period: Period, by: str = "type") -> dict[Key, Utilisation]:
    """Cost-weighted time utilisation: days on sites over days owned. Gear hired in is not ours to count."""
    return utilised(*piece_days(period, by))


def utilised(out: DaysAt, owned: DaysAt) -> dict[Key, Utilisation]:
    """From piece-days on sites and on the books."""
    found: dict[Key, list[Days]] = defaultdict(list)
    for key, cost in {*out, *owned}:
        days = owned[key, cost]
        found[key].append(Days(cost, min(out[key, cost], days), days))
    return {key: time_utilisation(days) for key, days in found.items()}


DaysAt = Counter[tuple[Any, Decimal]]
"""Piece-days by key and cost of a piece."""


def piece_days(period: Period, *by: str, lots: Lots = None) -> tuple[DaysAt, DaysAt]:
    """Piece-days of ours within the period: on sites, and on the books; several words make one key.

    By type, batch, age or ours; or by a field of the month and words of the lot.
    """
    out, owned = DaysAt(), DaysAt()
    for key, cost, outs, owns in _days_of_lots(_lots(lots, period), by) if by[0] in LOT_WORDS else _days_of(period, by):
        at = (key[0] if len(key) == 1 else key, cost)
        out[at] += outs
        owned[at] += owns
    return out, owned


LOT_WORDS = {*GROUPS, "ours"}


def _days_of_lots(lots: Sequence[LotSums], by: Sequence[str]) -> Iterable[tuple[tuple[Any, ...], Decimal, int, int]]:
    for lot in lots:
        if lot.ours:
            yield tuple(getattr(lot, name) for name in by), lot.price, lot.out, lot.owned


def _days_of(period: Period, by: Sequence[str]) -> Iterable[tuple[tuple[Any, ...], Decimal, int, int]]:
    ours = LotMonth.objects.filter(lot__ours=True, month__lt=period.after).order_by()
    rows = ours.values_list(*(_path(name) for name in by), "lot__cost", "lot__type__replacement_value").annotate(
        out=Sum(days("came", "left", period), filter=ON_SITES, default=0), owned=Sum(days("bought", "gone", period))
    )
    for *key, cost, value, outs, owns in rows:
        yield tuple(key), value if cost is None else cost, outs, owns


def out_now_by_type() -> Counter[Any]:
    """Pieces of ours on sites, by type: what ever came to one less what left it."""
    rows = LotMonth.objects.filter(ON_SITES, lot__ours=True).order_by().values_list(GROUPS["type"])
    return Counter(dict(rows.annotate(n=Sum(F("came") - F("left")))))


def by_key(days: Counter[tuple[Any, Any]]) -> Counter[Key]:
    """Piece-days by the first half of the key alone, such as whatever a piece cost."""
    found: Counter[Key] = Counter()
    for (key, _), n in days.items():
        found[key] += n
    return found


def uses_of(by: str, key: Key) -> Counter[int]:
    """How many pieces of ours have had how many uses; at a place, how many uses there."""
    if by in GROUPS:
        counts = SpanCount.objects.filter(**{"by": by, SPAN_FIELDS[by]: key}).order_by()
        return Counter(dict(counts.values_list("exit").annotate(pieces=Sum("n"))))
    runs = PieceRun.objects.filter(**{by: key}).order_by().values_list("piece")
    return Counter(n for _, n in runs.annotate(n=Sum(F("exit") - F("entry"))))
