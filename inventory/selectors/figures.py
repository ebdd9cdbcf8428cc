"""Sums over the summaries of lives: by type, age, maker batch or place; whole numbers and money, exact.

Money is summed as Decimal in Python over counts of like amounts, since SQLite would add it up in floating point.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from django.db.models import Case, Count, F, IntegerField, Q, Sum, Value, When
from django.db.models.functions import Coalesce, Greatest, Least

from inventory.figures.cost import Spent
from inventory.figures.utilisation import Days, Utilisation, time_utilisation
from inventory.lifecycle.kinds import PlaceKind
from inventory.models import Piece, PieceLife, PieceMonth, PieceStay, RepairOrder, RepairPart

Key = Hashable


class Period(NamedTuple):
    """Whole months: [first, after), both the first of a month."""

    first: date
    after: date

    @property
    def days(self) -> int:
        return (self.after - self.first).days


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

    def __add__(self, other: Tally) -> Tally:
        return Tally(*(getattr(self, name) + getattr(other, name) for name in self.__slots__))


def _year(bought: date | None, on_books: int | None) -> int | None:
    if bought is not None:
        return bought.year
    return None if on_books is None else date.fromordinal(on_books).year


GROUPS: dict[str, tuple[tuple[str, ...], Callable[..., Key]]] = {
    "type": (("type",), lambda pk: pk),
    "batch": (("maker_batch",), lambda batch: batch),
    "age": (("bought_on", "life__on_books"), _year),
}
"""How pieces are grouped: fields of the piece, and the key made of them. Age is the year a piece was bought, or came
on the books."""


def _fields(by: str, path: str) -> list[Any]:
    """Fields of the piece at the end of `path`, to group by. The day on the books only where no day of purchase is
    known: grouped by both, a fleet would fall into as many groups as it has pieces."""
    if by != "age":
        return [f"{path}{name}" for name in GROUPS[by][0]]
    bought, on_books = (f"{path}{name}" for name in GROUPS[by][0])
    return [bought, Case(When(**{bought: None}, then=F(on_books)), output_field=IntegerField())]


def _key(by: str, row: Iterable[Any]) -> Key:
    return GROUPS[by][1](*row)


def tallies(period: Period, by: str) -> dict[Key, Tally]:
    """By type, batch or age; "place" by the root place of the cast."""
    fields = ["place"] if by == "place" else _fields(by, "piece__")
    found: dict[Key, Tally] = defaultdict(Tally)
    for group, tally in _tallied(period, fields):
        found[group[0] if by == "place" else _key(by, group)] += tally
    return dict(found)


def tallies_by_place_and_type(period: Period) -> dict[tuple[int | None, int], Tally]:
    return {(group[0], group[1]): tally for group, tally in _tallied(period, ["place", "piece__type"])}


def by_month(period: Period) -> dict[date, Tally]:
    """The whole fleet, month by month."""
    return {group[0]: tally for group, tally in _tallied(period, ["month"])}


def _tallied(period: Period, fields: list[Any]) -> Iterable[tuple[tuple[Any, ...], Tally]]:
    rows = PieceMonth.objects.filter(month__gte=period.first, month__lt=period.after).order_by().values_list(*fields)
    counted = rows.annotate(
        n=Count("piece", Q(casts__gt=0), distinct=True),
        c=Sum("casts"),
        d=Sum("damaged"),
        u=Sum("unfit"),
        x=Sum("lost"),
        k=Sum("cleans"),
        o=Sum("uncleaned"),
    )
    return ((tuple(row[: len(fields)]), Tally(*row[len(fields) :])) for row in counted)


NOTHING_SPENT = Spent()


@dataclass(frozen=True, slots=True)
class Lived:
    """All that pieces of a group have cost and done since they came on the books.

    pieces    ours; held of them are still on the books; unpriced: whose cost is not known, so that the replacement
              value of their type is taken
    """

    pieces: int = 0
    held: int = 0
    uses: int = 0
    unpriced: int = 0
    spent: Spent = NOTHING_SPENT


def lived(by: str, clean_cost: Decimal) -> dict[Key, Lived]:
    """By type, batch or age. What was paid for a length that was cut goes with its parts, by length.

    `clean_cost` is what one cleaning costs.
    """
    found: dict[Key, Lived] = defaultdict(Lived)
    for key, cost, value, n, held, own in _costs(by):
        had, price = found[key], value if cost is None else cost
        found[key] = Lived(
            had.pieces + n,
            had.held + held,
            had.uses + own,
            had.unpriced + (n if cost is None else 0),
            replace(had.spent, bought=had.spent.bought + price * n),
        )
    for key, amount in _moved(by).items():
        _add(found, key, bought=-amount)
    for key, amount in _mended(by).items():
        _add(found, key, mended=amount)
    for key, amount in _cleaned(by, clean_cost).items():
        _add(found, key, cleaned=amount)
    for key, amount in _proceeds(by).items():
        _add(found, key, came_back=amount)
    return dict(found)


def _add(found: dict[Key, Lived], key: Key, **more: Decimal) -> None:
    spent = found[key].spent
    found[key] = replace(found[key], spent=replace(spent, **{n: getattr(spent, n) + a for n, a in more.items()}))


def _costs(by: str) -> Iterable[tuple[Key, Decimal | None, Decimal, int, int, int]]:
    fields = _fields(by, "piece__")
    rows = (
        PieceLife.objects.filter(piece__hired_in=None)
        .order_by()
        .values_list(*fields, "piece__cost", "piece__type__replacement_value", "piece__cut_from")
        .annotate(n=Count("pk"), held=Count("pk", Q(ended="")), own=Sum(F("uses") - F("entry_uses")))
    )
    for row in rows:
        group, (cost, value, parent, n, held, own) = row[: len(fields)], row[len(fields) :]
        if cost is None and parent is not None:
            value = Decimal(0)  # a part of a length whose cost is not known: the length's own value stands for both
        yield _key(by, group), cost, value, n, held, own


def _moved(by: str) -> dict[Key, Decimal]:
    fields = _fields(by, "cut_from__")
    rows = Piece.objects.filter(cut_from__isnull=False, cost__isnull=False).order_by()
    return _amounts(by, rows.values_list(*fields, "cost").annotate(n=Count("pk")), len(fields))


def _mended(by: str) -> dict[Key, Decimal]:
    fields = _fields(by, "piece__")
    rows = RepairOrder.objects.filter(work_cost__gt=0, piece__hired_in=None).order_by()
    work = _amounts(by, rows.values_list(*fields, "work_cost").annotate(n=Count("pk")), len(fields))
    fields = _fields(by, "order__piece__")
    parts = RepairPart.objects.filter(order__piece__hired_in=None).order_by()
    goods = _amounts(by, parts.values_list(*fields, "unit_cost").annotate(n=Sum("quantity")), len(fields))
    return {key: work.get(key, Decimal(0)) + goods.get(key, Decimal(0)) for key in {*work, *goods}}


def _cleaned(by: str, each: Decimal) -> dict[Key, Decimal]:
    fields = _fields(by, "piece__")
    rows = PieceMonth.objects.filter(cleans__gt=0, piece__hired_in=None).order_by()
    counts: Counter[Key] = Counter()
    for *group, n in rows.values_list(*fields).annotate(n=Sum("cleans")):
        counts[_key(by, group)] += n
    return {key: each * n for key, n in counts.items()}


def _proceeds(by: str) -> dict[Key, Decimal]:
    fields = _fields(by, "piece__")
    rows = PieceLife.objects.filter(proceeds__gt=0, piece__hired_in=None).order_by()
    return _amounts(by, rows.values_list(*fields, "proceeds").annotate(n=Count("pk")), len(fields))


def _amounts(by: str, rows: Iterable[Any], fields: int) -> dict[Key, Decimal]:
    found: dict[Key, Decimal] = defaultdict(Decimal)
    for row in rows:
        amount, n = row[fields:]
        found[_key(by, row[:fields])] += amount * n
    return dict(found)


def utilisation(period: Period, by: str = "type") -> dict[Key, Utilisation]:
    """Cost-weighted time utilisation: days on sites over days owned. Gear hired in is not ours to count."""
    out, owned = _days_out(period, by), _days_owned(period, by)
    found: dict[Key, list[Days]] = defaultdict(list)
    for key, cost in {*out, *owned}:
        days = owned[key, cost]
        found[key].append(Days(cost, min(out[key, cost], days), days))
    return {key: time_utilisation(days) for key, days in found.items()}


def _days_out(period: Period, by: str) -> Counter[tuple[Key, Decimal]]:
    first, after = period.first.toordinal(), period.after.toordinal()
    rows = PieceStay.objects.filter(place__kind=PlaceKind.SITE, since__lt=after, piece__hired_in=None).filter(
        Q(until=None) | Q(until__gt=first)
    )
    return _days(rows, _fields(by, "piece__"), by, overlap("since", "until", first, after))


def _days_owned(period: Period, by: str) -> Counter[tuple[Key, Decimal]]:
    first, after = period.first.toordinal(), period.after.toordinal()
    rows = PieceLife.objects.filter(on_books__lt=after, piece__hired_in=None).filter(
        Q(off_books=None) | Q(off_books__gt=first)
    )
    return _days(rows, _fields(by, "piece__"), by, overlap("on_books", "off_books", first, after))


def overlap(since: str, until: str, first: int, after: int) -> Any:
    return Sum(_inner(since, until, first, after))


def _inner(since: str, until: str, first: int, after: int) -> Any:
    """Days of one span within [first, after); below nought where they do not meet."""
    return Least(Coalesce(until, Value(after)), Value(after)) - Greatest(since, Value(first))


def _days(rows: Any, fields: list[Any], by: str, days: Any) -> Counter[tuple[Key, Decimal]]:
    found: Counter[tuple[Key, Decimal]] = Counter()
    grouped = rows.order_by().values_list(*fields, "piece__cost", "piece__type__replacement_value")
    for row in grouped.annotate(days=days):
        cost, value, n = row[len(fields) :]
        found[_key(by, row[: len(fields)]), value if cost is None else cost] += n
    return found


def used_by_month(months: Sequence[Period]) -> list[Utilisation]:
    """Time utilisation of all that is ours in each period, from two queries however many there are."""
    out = _days_of_each(PieceStay.objects.filter(place__kind=PlaceKind.SITE), "since", "until", months)
    owned = _days_of_each(PieceLife.objects.filter(on_books__isnull=False), "on_books", "off_books", months)
    return [Utilisation(out[at], owned[at]) for at in range(len(months))]


def _days_of_each(rows: Any, since: str, until: str, months: Sequence[Period]) -> list[Decimal]:
    """Cost times days within each period."""
    overlaps = {
        f"m{at}": Sum(Greatest(Value(0), _inner(since, until, month.first.toordinal(), month.after.toordinal())))
        for at, month in enumerate(months)
    }
    found = [Decimal(0)] * len(months)
    grouped = rows.filter(piece__hired_in=None).order_by()
    for cost, value, *days in grouped.values_list("piece__cost", "piece__type__replacement_value").annotate(**overlaps):
        found = [had + (value if cost is None else cost) * n for had, n in zip(found, days, strict=True)]
    return found


def uses_of(which: Q) -> Counter[int]:
    """How many pieces have had how many uses."""
    rows = PieceLife.objects.filter(which).order_by().values_list("uses").annotate(n=Count("pk"))
    return Counter(dict(rows))
