"""The manager's week: what changed, what it cost, and the five things most worth doing now."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, NamedTuple

from django.db.models import Count, Q, QuerySet, Sum
from django.urls import reverse

from inventory.figures.life import money_said
from inventory.lifecycle.kinds import Kind
from inventory.models import Event, Missing, Piece, RepairOrder, RepairPart, ReviewItem
from inventory.selectors.upkeep import OVERDUE, inspections
from jobs.models import BillLine, Job
from jobs.selectors.upkeep import cast_uncleaned, unfit_without_order, wanted

THINGS = 5
NOTED = {
    Kind.REGISTERED: "put on the books",
    Kind.SENT: "sent out",
    Kind.RETURNED: "counted back",
    Kind.CLEANED: "marked clean",
    Kind.FOUND_DAMAGED: "found damaged",
    Kind.INSPECTED: "inspected",
    Kind.REPAIRED: "mended",
    Kind.CUT_DOWN: "cut down",
    Kind.LOST: "written off as lost",
    Kind.FOUND: "found again",
    Kind.RETIRED: "retired or sold",
}
"""Events about single pieces that the page counts, in the order of a piece's life."""


class Change(NamedTuple):
    """So many pieces, and what happened to them."""

    pieces: int
    words: str


class Money(NamedTuple):
    """An amount and what it was for; `earned` where it came in."""

    amount: Decimal
    words: str
    earned: bool = False


class Thing(NamedTuple):
    """One thing worth doing: what, how many, why it matters, where. Safety before money."""

    safety: bool
    worth: Decimal
    words: str
    why: str
    url: str


@dataclass(frozen=True, slots=True)
class Week:
    first: date
    last: date
    pours_cast: int
    changes: list[Change]
    money: list[Money]
    scrap_kg: Decimal
    things: list[Thing]


def the_week(first: date, start: datetime, end: datetime, today: date, clean_cost: Decimal) -> Week:
    """What was recorded in [start, end), which begins on the day `first`; the things to do are as of now."""
    events = _standing(start, end)
    pieces = events.filter(piece__isnull=False)
    counts = dict(pieces.order_by().values_list("kind").annotate(n=Count("piece", distinct=True)))
    changes = [Change(counts[kind], words) for kind, words in NOTED.items() if counts.get(kind)]
    kinds = [Kind.LOST, Kind.FOUND, Kind.RETIRED, Kind.CUT_DOWN]
    told = list(pieces.filter(kind__in=kinds).select_related("piece__type"))
    cleaned = Decimal(counts.get(Kind.CLEANED, 0)) * clean_cost
    return Week(
        first,
        first + timedelta(days=6),
        events.filter(kind=Kind.CAST, group_kind="pour").count(),
        changes,
        [money for money in _money(told, cleaned, start, end) if money.amount],
        sum((money_said(e.data.get("scrap_kg")) for e in told if e.kind == Kind.CUT_DOWN), Decimal(0)),
        things(today),
    )


def _standing(start: datetime, end: datetime) -> QuerySet[Event]:
    """Events recorded in the week that no reversal for all of them has taken back."""
    back = Event.objects.filter(kind=Kind.REVERSED, recorded_at__gte=start).order_by().values("target")
    return Event.objects.filter(recorded_at__gte=start, recorded_at__lt=end).exclude(pk__in=back)


def _money(told: Iterable[Event], cleaned: Decimal, start: datetime, end: datetime) -> Iterator[Money]:
    yield Money(_mended(start, end), "repairs finished: work and parts")
    yield Money(cleaned, "cleaning, at the yard's cost of one")
    lost = [e for e in told if e.kind == Kind.LOST]
    yield Money(sum((_value(e) for e in lost), Decimal(0)), "gear written off, at replacement value")
    found = _as_lost([e for e in told if e.kind == Kind.FOUND])
    yield Money(sum((_value(e) for e in found), Decimal(0)), "gear found again, at what it was written off at", True)
    sold = [money_said(e.data.get("proceeds")) for e in told if e.kind == Kind.RETIRED]
    yield Money(sum(sold, Decimal(0)), "sales and scrap of gear", True)
    billed = BillLine.objects.filter(bill__issued_at__gte=start, bill__issued_at__lt=end, kind__in=["hire", "use"])
    yield Money(
        Decimal(billed.order_by().aggregate(n=Sum("net"))["n"] or 0), "hire billed, credit notes taken off", True
    )


def _as_lost(found: list[Event]) -> list[Event]:
    """The loss that each find undoes: the last one before it."""
    pieces = [event.piece_id for event in found]
    lost = Event.objects.filter(kind=Kind.LOST, piece__in=pieces).order_by("happened_at").select_related("piece__type")
    last = {event.piece_id: event for event in lost}
    return [last.get(event.piece_id, event) for event in found]


def _value(event: Event) -> Decimal:
    said = money_said(event.data.get("value"))
    return said if said or event.piece is None else event.piece.type.replacement_value


def _mended(start: datetime, end: datetime) -> Decimal:
    done = RepairOrder.objects.filter(done_at__gte=start, done_at__lt=end).order_by()
    work = sum(done.values_list("work_cost", flat=True), Decimal(0))
    parts = RepairPart.objects.filter(order__in=done).order_by().values_list("unit_cost", "quantity")
    return work + sum((cost * count for cost, count in parts), Decimal(0))


def things(today: date) -> list[Thing]:
    """What could hurt somebody first, then what is worth most."""
    found = [thing for thing in _candidates(today) if thing is not None]
    return sorted(found, key=lambda thing: (not thing.safety, -thing.worth))[:THINGS]


def _candidates(today: date) -> Iterator[Thing | None]:
    yield from _dangers(today)
    yield _late(today)
    next_week = [pk for pk, each in wanted().items() if each.by_day <= today + timedelta(days=7)]
    soon = Piece.objects.dirty().filter(pk__in=next_week)
    yield _valued(
        soon, "type", "Clean {} that loads of the next seven days wait for", "piece", "They head the queue.", "cleaning"
    )
    yield _valued(
        unfit_without_order(),
        "type",
        "Say what is done about {}",
        "unfit piece",
        "Mend, cut down, sell or retire: until then they earn nothing.",
        "repairs",
    )
    yield _valued(
        Missing.objects.open(),
        "piece__type",
        "Ask after {}",
        "missing piece",
        "Found soon, or charged while the job is open.",
        "missing",
    )
    yield _valued(
        RepairOrder.objects.to_inspect(),
        "piece__type",
        "Inspect {}",
        "mended piece",
        "Mended is not fit: they stay locked until somebody has inspected them.",
        "repairs",
    )


def _dangers(today: date) -> Iterator[Thing | None]:
    loud = ReviewItem.objects.open().filter(loud=True).count()
    yield _danger(3, loud, "Look at {} of unfit gear in use", "case", "Somebody could be hurt.", reverse("review"))
    overdue = inspections(today).filter(Q(due=OVERDUE)).order_by().count()
    why = "The maker's data and the local rules decide; until then keep them out of use."
    there = f"{reverse('inspections')}?due={OVERDUE}"
    yield _danger(2, overdue, "Inspect {} whose inspection is overdue", "piece", why, there)
    uncleaned = sum(each.pieces for each in cast_uncleaned())
    why = "Set slurry keeps a form from seating, and spoils the next panel."
    yield _danger(1, uncleaned, "Clear the channels of {} cast again uncleaned", "form", why, reverse("cleaning"))


def _danger(rank: int, count: int, words: str, what: str, why: str, url: str) -> Thing | None:
    return Thing(True, Decimal(rank), words.format(_many(count, what)), why, url) if count else None


def _valued(rows: Any, kind: str, words: str, what: str, why: str, page: str) -> Thing | None:
    """Worth what the gear in question would cost to replace."""
    found = rows.order_by().aggregate(n=Count("pk"), worth=Sum(f"{kind}__replacement_value"))
    if not found["n"]:
        return None
    return Thing(False, Decimal(found["worth"] or 0), words.format(_many(found["n"], what)), why, reverse(page))


def _late(today: date) -> Thing | None:
    """Gear still on the sites of jobs that should have sent it back."""
    late = Job.objects.under_way().filter(ends_on__lt=today).order_by()
    sites = dict(late.values_list("site", "code"))
    held = Piece.objects.held().filter(Q(place__in=sites) | Q(place__parent__in=sites))
    counts: Counter[str] = Counter()
    worth = Decimal(0)
    for place, parent, n, value in (
        held.order_by()
        .values_list("place", "place__parent")
        .annotate(n=Count("pk"), value=Sum("type__replacement_value"))
    ):
        counts[sites.get(place) or sites.get(parent) or ""] += n
        worth += Decimal(value or 0)
    if not counts:
        return None
    jobs = ", ".join(f"{code} ({n:,})" for code, n in counts.most_common(4))
    words = f"Get {_many(counts.total(), 'overdue piece')} back: {jobs}"
    return Thing(
        False, worth, words, "Past the day they were due; planning counts them as none.", f"{reverse('board')}#out"
    )


def _many(count: int, word: str) -> str:
    return f"{count:,} {word}{'' if count == 1 else 's'}"
