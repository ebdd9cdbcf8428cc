"""Sums over the summaries of lives: by type, age, maker batch, place, or what a place leads to; exact.

Whole numbers come from the months of lots, which are few however many pieces and events there are; money is summed as
Decimal in Python over counts of like amounts, since SQLite would add it up in floating point.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any, NamedTuple

from django.db.models import Case, Count, F, Q, Sum, Value, When
from django.db.models.expressions import CombinedExpression
from django.utils import timezone

from inventory.figures.cost import Spent
from inventory.figures.utilisation import Days, Utilisation, time_utilisation
from inventory.lifecycle.kinds import PlaceKind
from inventory.models import LotMonth, Piece, PieceLife, PieceRun, RepairOrder, RepairPart, SpanCount
from inventory.selectors.piece_sets import used_at_places, used_of_lots

Key = Hashable


class Period(NamedTuple):
    """[first, after): `first` the first of a month; `after` likewise, or tomorrow in a month that is not over."""

    first: date
    after: date

    @property
    def days(self) -> int:
        return (self.after - self.first).days

    @property
    def months(self) -> list[date]:
        found = [self.first]
        while (after := month_after(found[-1])) < self.after:
            found.append(after)
        return found


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


def tallies(period: Period, by: str) -> dict[Key, Tally]:
    """By type, batch or age, or by a field of the month."""
    return dict(_tallied(period, by, _used(period, by)))


def casts_of_ours(period: Period, by: str) -> Counter[Key]:
    """Casts with gear of our own: what `tallies` has of them, without counting the pieces."""
    rows = LotMonth.objects.filter(month__gte=period.first, month__lt=period.after, lot__ours=True).order_by()
    return Counter(dict(rows.values_list(_path(by)).annotate(n=Sum("casts"))))


def casts_by_place_and_type(period: Period, place: str) -> dict[tuple[Key, Key], int]:
    rows = LotMonth.objects.filter(month__gte=period.first, month__lt=period.after, casts__gt=0).order_by()
    return {(key, kind): n for key, kind, n in rows.values_list(place, GROUPS["type"]).annotate(n=Sum("casts"))}


def by_month(period: Period) -> tuple[dict[date, Tally], Counter[date]]:
    """The whole fleet, month by month: what happened (how many pieces were used is left out), and pieces dirty at
    the month's end, of months in which anything happened since the beginning."""
    rows = LotMonth.objects.filter(month__lt=period.after).order_by("month").values_list("month")
    names = ("casts", "damaged", "unfit", "lost", "cleans", "uncleaned")
    tallies, dirty, so_far = {}, Counter[date](), 0
    for month, more, *numbers in rows.annotate(d=Sum(F("soiled") - F("shed")), **{f"s_{n}": Sum(n) for n in names}):
        so_far += more
        dirty[month] = so_far
        if month >= period.first and any(numbers):
            tallies[month] = Tally(0, *numbers)
    return tallies, dirty


def _tallied(period: Period, by: str, used: Counter[Key]) -> Iterable[tuple[Any, Tally]]:
    rows = LotMonth.objects.filter(month__gte=period.first, month__lt=period.after).order_by()
    sums = [Sum(name) for name in ("casts", "damaged", "unfit", "lost", "cleans", "uncleaned")]
    ours = Sum("casts", filter=Q(lot__ours=True), default=0)
    for key, *numbers in rows.values_list(_path(by)).annotate(*sums, ours=ours):
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


def lived(by: str, clean_cost: Decimal) -> dict[Key, Lived]:
    """By type, batch or age. What was paid for a length that was cut goes with its parts, by length.

    `clean_cost` is what one cleaning costs.
    """
    found: dict[Key, Lived] = defaultdict(Lived)
    for key, lot in _lots(by):
        found[key] = _with(found[key], lot, clean_cost)
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


class _Lots(NamedTuple):
    """Lots of one price: what one cost (None: not known), its type's figures, and what became of all of them."""

    cost: Decimal | None
    value: Decimal
    mass_kg: Decimal
    rated: int | None
    part: bool
    bought: int
    gone: int
    casts: int
    cleans: int

    @property
    def price(self) -> Decimal:
        """Of a part of a length whose cost is not known, nothing: the length's own value stands for both."""
        if self.cost is not None:
            return self.cost
        return Decimal(0) if self.part else self.value


def _lots(by: str) -> Iterable[tuple[Key, _Lots]]:
    kind = "lot__type__"
    fields = ("lot__cost", f"{kind}replacement_value", f"{kind}mass_kg", f"{kind}rated_uses", "lot__part")
    rows = LotMonth.objects.filter(lot__ours=True).order_by().values_list(_path(by), *fields)
    counted = rows.annotate(Sum("bought"), Sum("gone"), Sum("casts"), Sum("cleans"))
    return ((key, _Lots(*rest)) for key, *rest in counted)


def _with(had: Lived, lot: _Lots, clean_cost: Decimal) -> Lived:
    spent = had.spent
    return Lived(
        had.pieces + lot.bought,
        had.held + lot.bought - lot.gone,
        had.uses + lot.casts,
        had.unpriced + (lot.bought if lot.cost is None else 0),
        replace(spent, bought=spent.bought + lot.price * lot.bought, cleaned=spent.cleaned + clean_cost * lot.cleans),
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


def piece_days(period: Period, *by: str) -> tuple[DaysAt, DaysAt]:
    """Piece-days of ours within the period: on sites, and on the books; several words make one key."""
    out, owned = DaysAt(), DaysAt()
    counted = _ours(period.after, *(_path(name) for name in by)).annotate(
        out=Sum(_days("came", "left", period), filter=ON_SITES, default=0), owned=Sum(_days("bought", "gone", period))
    )
    for *key, cost, value, outs, owns in counted:
        at = (key[0] if len(key) == 1 else tuple(key), value if cost is None else cost)
        out[at] += outs
        owned[at] += owns
    return out, owned


def _days(came: str, left: str, period: Period) -> CombinedExpression:
    """Who came before the period is there for all of it; who came in a month of it, for the days to that month's end
    and then on; who left is taken off likewise."""
    then_on = [When(month=month, then=Value((period.after - month_after(month)).days)) for month in period.months]
    to_its_end = When(month__gte=period.first, then=F(f"{came}_days") - F(f"{left}_days"))
    return (F(came) - F(left)) * Case(*then_on, default=Value(period.days)) + Case(to_its_end, default=Value(0))


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


ON_SITES = Q(place__kind=PlaceKind.SITE)


def _ours(after: date, *fields: str) -> Any:
    """Months of our lots, by these fields and the two that a piece's cost is taken from."""
    ours = LotMonth.objects.filter(lot__ours=True, month__lt=after).order_by()
    return ours.values_list(*fields, "lot__cost", "lot__type__replacement_value")


class _Change(NamedTuple):
    """In one month: what came less what left, and so many days from then to the month's end, likewise."""

    more: Decimal = Decimal(0)
    days: Decimal = Decimal(0)

    def plus(self, more: Decimal, days: Decimal) -> _Change:
        return _Change(self.more + more, self.days + days)


class _Changes(NamedTuple):
    """Of one month: on sites and on the books, at what the pieces cost; and on the books, in pieces."""

    out: _Change = _Change()
    owned: _Change = _Change()
    pieces: _Change = _Change()


def used_by_month(months: Sequence[Period]) -> list[tuple[Utilisation, int]]:
    """Time utilisation of all that is ours in each period, and the piece-days owned behind it, from one query."""
    changes = _by_month(max((month.after for month in months), default=date.min))
    return [
        (
            Utilisation(_within(period, changes, "out"), _within(period, changes, "owned")),
            int(_within(period, changes, "pieces")),
        )
        for period in months
    ]


def _by_month(after: date) -> dict[date, _Changes]:
    found: dict[date, _Changes] = defaultdict(_Changes)
    counted = _ours(after, "month").annotate(
        out=Sum(F("came") - F("left"), filter=ON_SITES, default=0),
        out_days=Sum(F("came_days") - F("left_days"), filter=ON_SITES, default=0),
        owned=Sum(F("bought") - F("gone")),
        owned_days=Sum(F("bought_days") - F("gone_days")),
    )
    for month, own, value, out, out_days, owned, owned_days in counted:
        cost, had = value if own is None else own, found[month]
        found[month] = _Changes(
            had.out.plus(cost * out, cost * out_days),
            had.owned.plus(cost * owned, cost * owned_days),
            had.pieces.plus(Decimal(owned), Decimal(owned_days)),
        )
    return found


def _within(period: Period, changes: Mapping[date, _Changes], what: str) -> Decimal:
    """Piece-days within the period, counted as `_days` does."""
    total = Decimal(0)
    for month, each in changes.items():
        if month < period.after:
            change: _Change = getattr(each, what)
            rest = (period.after - max(period.first, month_after(month))).days
            total += change.more * rest + (change.days if month >= period.first else 0)
    return total


def month_after(day: date, months: int = 1) -> date:
    """The first of the month so many months after the one of `day`.

    >>> month_after(date(2026, 12, 15))
    datetime.date(2027, 1, 1)
    """
    number = day.year * 12 + day.month - 1 + months
    return date(number // 12, number % 12 + 1, 1)


def month_end(month: date) -> datetime:
    """When a month is over in the yard, in UTC, so that times to it are as a clock runs, whatever the season."""
    zone = timezone.get_current_timezone()
    return datetime.combine(month_after(month), time(), zone).astimezone(UTC)


def uses_of(by: str, key: Key) -> Counter[int]:
    """How many pieces of ours have had how many uses; at a place, how many uses there."""
    if by in GROUPS:
        counts = SpanCount.objects.filter(**{"by": by, SPAN_FIELDS[by]: key}).order_by()
        return Counter(dict(counts.values_list("exit").annotate(pieces=Sum("n"))))
    runs = PieceRun.objects.filter(**{by: key}).order_by().values_list("piece")
    return Counter(n for _, n in runs.annotate(n=Sum(F("exit") - F("entry"))))
