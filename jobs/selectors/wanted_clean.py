"""Which dirty pieces the next loads need: a yard's clean pieces of a type go to its trucks in the order they are
loaded, and where those run out the pieces that have been dirty longest are wanted clean by the day of that truck."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from datetime import date
from itertools import islice
from typing import NamedTuple

from django.db.models import Count, Q, QuerySet
from django.db.models.functions import Coalesce

from inventory.lifecycle.kinds import Fitness, PlaceKind
from inventory.models import Piece
from jobs.models import Job, LoadLine

Stock = tuple[int, int]
"""A yard and a type."""


class Wanted(NamedTuple):
    """The day it is to be loaded, and the code of the job that waits for it."""

    by_day: date
    job: str


def wanted_clean() -> dict[int, Wanted]:
    """By piece id. Trucks whose day is past and that have not left are still waited for."""
    trucks = list(_trucks())
    if not trucks:
        return {}
    clean, needed = _clean(stock for stock, *_ in trucks), Counter[Stock]()
    for stock, count, _ in trucks:
        needed[stock] += count
    waiting = _dirty(stock for stock, count in needed.items() if count > clean[stock])
    found: dict[int, Wanted] = {}
    for stock, count, wanted in trucks:
        served = min(count, clean[stock])
        clean[stock] -= served
        found |= dict.fromkeys(islice(waiting[stock], count - served), wanted)
    return found


def _trucks() -> Iterator[tuple[Stock, int, Wanted]]:
    """What is still to be loaded of each type, truck by truck, the soonest first."""
    lines = LoadLine.objects.filter(
        Q(delivery__docket=None) | Q(delivery__docket__left_at=None),
        delivery__is_return=False,
        delivery__job__stage__in=[Job.Stage.ACCEPTED, Job.Stage.RUNNING],
        type__tracked="by tag",
    ).order_by("delivery__load_on", "delivery", "type")
    said = ("delivery__job__yard", "type", "quantity", "delivery__load_on", "delivery__job__code", "delivery__docket")
    rows = list(lines.values_list(*said))
    loaded = _loaded({docket for *_, docket in rows if docket is not None})
    for yard, kind, count, day, job, docket in rows:
        left = count - loaded[docket, kind]
        if left > 0:
            yield (yard, kind), left, Wanted(day, job)


def _loaded(dockets: set[int]) -> Counter[tuple[int | None, int]]:
    if not dockets:
        return Counter()
    rows = Piece.objects.held().filter(docket__in=dockets, place=None).order_by()
    return Counter(
        {(docket, kind): n for docket, kind, n in rows.values_list("docket", "type").annotate(n=Count("pk"))}
    )


def _here(stocks: Iterable[Stock]) -> QuerySet[Piece]:
    """Fit pieces of those types in those yards, on no truck."""
    pairs = set(stocks)
    yards, kinds = {yard for yard, _ in pairs}, {kind for _, kind in pairs}
    at = Q(place__in=yards, place__kind=PlaceKind.YARD) | Q(place__parent__in=yards)
    return Piece.objects.held().exclude(fitness=Fitness.UNFIT).filter(at, type__in=kinds, docket=None)


def _clean(stocks: Iterable[Stock]) -> Counter[Stock]:
    rows = _here(stocks).filter(dirty=False).order_by().values_list(Coalesce("place__parent", "place"), "type")
    return Counter({(yard, kind): n for yard, kind, n in rows.annotate(n=Count("pk"))})


def _dirty(stocks: Iterable[Stock]) -> dict[Stock, Iterator[int]]:
    rows = _here(stocks).filter(dirty=True).order_by(Coalesce("life__dirty_since", "since"), "pk")
    found: dict[Stock, list[int]] = defaultdict(list)
    for pk, yard, kind in rows.values_list("pk", Coalesce("place__parent", "place"), "type"):
        found[yard, kind].append(pk)
    return defaultdict(lambda: iter(()), {stock: iter(pks) for stock, pks in found.items()})
