"""What keeping gear fit asks for: inspections due, the returns a piece came on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Case, F, IntegerField, Q, QuerySet, Value, When
from django.utils import timezone

from inventory.figures.life import Life
from inventory.lifecycle.kinds import Fitness, Kind, PlaceKind
from inventory.models import Docket, Event, GearType, Piece

SOON_DAYS = 14
"""A count of days is due two weeks ahead; a count of uses when a tenth of its interval is left."""
HOLDS = (GearType.Kind.STACK_BRACKET, GearType.Kind.FORM_BRACKET, GearType.Kind.CORNER_CLAMP)
"""Kinds that hold formwork or people; other types carry an interval too where one is set."""
OVERDUE, DUE = 2, 1


def returns_of(piece: Piece) -> QuerySet[Docket]:
    """Dockets that brought the piece back, the newest first."""
    events = Event.objects.filter(piece=piece, kind=Kind.RETURNED, docket__isnull=False).order_by()
    return Docket.objects.filter(pk__in=events.values("docket")).order_by("-opened_at")


def shorter_types(piece: Piece) -> QuerySet[GearType]:
    """Edge forms of its section that can be cut from it."""
    return GearType.objects.filter(
        kind=GearType.Kind.EDGE_FORM,
        tracked=GearType.Tracked.BY_TAG,
        withdrawn=False,
        section_mm=piece.type.section_mm,
        length_mm__lt=piece.type.length_mm or 0,
    ).order_by("length_mm", "splayed_ends", "code")


def to_cut_from(kind: GearType) -> QuerySet[Piece]:
    """Pieces of a type that may be cut: ours, in a yard, in no pour; damaged ones first, then the most used."""
    in_a_yard = Q(place__kind=PlaceKind.YARD) | Q(place__parent__kind=PlaceKind.YARD)
    worst = Case(When(fitness=Fitness.UNFIT, then=0), When(fitness=Fitness.WATCH, then=1), default=2)
    return (
        Piece.objects.held()
        .filter(in_a_yard, type=kind, hired_in=None)
        .annotate(worst=worst)
        .select_related("type", "place__parent")
        .order_by("worst", "-uses", "pk")
    )


def soon(every: int) -> int:
    """So many uses since the last inspection make the next one due."""
    return max(1, every - every // 10)


def types_to_inspect() -> list[GearType]:
    """Types that carry an interval, in uses or in days."""
    some = Q(inspect_every_uses__isnull=False) | Q(inspect_every_days__isnull=False)
    return list(GearType.objects.filter(some, tracked=GearType.Tracked.BY_TAG))


def types_without_interval() -> list[GearType]:
    """Types that hold formwork or people and for which nobody has set an interval."""
    none = Q(inspect_every_uses=None, inspect_every_days=None)
    return list(GearType.objects.filter(none, kind__in=HOLDS, tracked=GearType.Tracked.BY_TAG, withdrawn=False))


def inspections(today: date) -> QuerySet[Piece]:
    """Held pieces whose inspection is due or overdue (annotated `due`), overdue first.

    Read from the summaries of lives: bring those up to date first.
    """
    overdue, coming = Q(pk__in=[]), Q(pk__in=[])
    for kind in types_to_inspect():
        overdue |= Q(type=kind) & _reached(kind, kind.inspect_every_uses, today)
        at = None if kind.inspect_every_uses is None else soon(kind.inspect_every_uses)
        coming |= Q(type=kind) & _reached(kind, at, today + timedelta(days=SOON_DAYS))
    rank = Case(When(overdue, then=Value(OVERDUE)), default=Value(DUE), output_field=IntegerField())
    return (
        Piece.objects.held()
        .filter(overdue | coming)
        .annotate(due=rank, since_inspected=F("life__uses_since_inspected"), inspected=F("life__inspected_at"))
        .select_related("type", "place__parent", "docket", "life")
    )


def _reached(kind: GearType, uses: int | None, day: date) -> Q:
    """So many uses, or its days up by then: since its last inspection, or since it came on the books."""
    found = Q(pk__in=[])
    if uses is not None:
        found |= Q(life__uses_since_inspected__gte=uses)
    if kind.inspect_every_days is not None:
        last = day - timedelta(days=kind.inspect_every_days)
        found |= Q(life__inspected_at__date__lte=last) | Q(
            life__inspected_at=None, life__on_books__lte=last.toordinal()
        )
    return found


@dataclass(frozen=True, slots=True)
class Inspection:
    """How one piece stands: when last inspected, uses since, what is left; `words` is "", "due" or "overdue"."""

    last: datetime | None
    uses_since: int
    uses_left: int | None
    due_on: date | None
    words: str


def inspection_of(kind: GearType, life: Life, today: date) -> Inspection | None:
    """None where the type carries no interval."""
    every_uses, every_days = kind.inspect_every_uses, kind.inspect_every_days
    if every_uses is None and every_days is None:
        return None
    left = None if every_uses is None else every_uses - life.uses_since_inspected
    looked = timezone.localtime(life.inspected_at).date() if life.inspected_at else life.on_books
    due_on = looked + timedelta(days=every_days) if looked and every_days is not None else None
    words = ""
    if (left is not None and left <= 0) or (due_on is not None and due_on <= today):
        words = "overdue"
    elif (every_uses and life.uses_since_inspected >= soon(every_uses)) or (
        due_on is not None and due_on <= today + timedelta(days=SOON_DAYS)
    ):
        words = "due"
    return Inspection(life.inspected_at, life.uses_since_inspected, left, due_on, words)
