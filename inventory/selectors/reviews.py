"""What waits for a person to settle: one card for each contradiction, however many pieces share it."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from django.db.models import F, Q, QuerySet

from inventory.lifecycle.fold import apply, fold
from inventory.lifecycle.kinds import Kind
from inventory.lifecycle.sentences import clock_off, sentence
from inventory.lifecycle.state import State
from inventory.models import Event, Piece, Place, ReviewItem, Submission
from inventory.models.review import ReviewQuerySet
from inventory.selectors.ledger import GroupBook, cached, loose_reversals, own_events


@dataclass
class Card:
    """One contradiction: what it is, what was reported, and every piece it concerns."""

    code: str
    loud: bool
    opened_at: datetime
    event: Event | None
    submission: Submission | None
    items: list[ReviewItem] = field(default_factory=list)

    @property
    def pk(self) -> int:
        """The card is known by the first of its items."""
        return self.items[0].pk

    @property
    def sentence(self) -> str:
        return sentence(self.code)

    @property
    def clock(self) -> str:
        """How far the device's clock looked off at that delivery."""
        return "" if self.submission is None else clock_off(round(self.submission.batch.clock_off_ms / 1000))

    @property
    def report(self) -> UUID | None:
        """The id of the report that the card is about, which was made where it happened."""
        if self.event is not None:
            return self.event.pk
        return self.submission.event_id if self.submission is not None else None

    @property
    def pieces(self) -> list[Piece]:
        return [item.piece for item in self.items if item.piece is not None]

    @property
    def said(self) -> dict[str, object]:
        """What came in, as it was understood."""
        return {} if self.submission is None else self.submission.said or self.submission.raw

    @property
    def tag(self) -> str:
        """The code that was scanned, where no piece was found for it."""
        return str(self.said.get("tag", ""))


@dataclass(frozen=True)
class Verdict:
    """Whether a report still waits for a person; and, where it does not, by whom and how it was settled."""

    open: bool
    by: str = ""
    how: str = ""


def verdicts(reports: Collection[UUID]) -> dict[UUID, Verdict]:
    """What has become of reports that were kept for review, by their id. A clock in doubt concerns no report."""
    found: dict[UUID, Verdict] = {pk: Verdict(False) for pk in reports}
    about = Q(event__in=reports) | Q(submission__event_id__in=reports)
    rows = ReviewItem.objects.filter(about).exclude(code="clock-off").order_by(F("settled_at").asc(nulls_last=True))
    for event, report, settled, by, how in rows.values_list(
        "event_id", "submission__event_id", "settled_at", "settled_by__name", "how"
    ):
        found[event if event in found else report] = Verdict(settled is None, by or "", how)
    return found


def open_items() -> ReviewQuerySet:
    joined = (
        "event__place",
        "event__person",
        "event__type",
        "event__docket",
        "piece__type",
        "submission__batch__person",
        "submission__batch__device",
    )
    return ReviewItem.objects.open().select_related(*joined)


def cards(items: Iterable[ReviewItem]) -> list[Card]:
    """Items of one event and code stand on one card; an item without an event stands alone. Order is kept."""
    found: dict[tuple[object, str], Card] = {}
    for item in items:
        key = (item.event_id or f"item {item.pk}", item.code)
        card = found.setdefault(key, Card(item.code, item.loud, item.opened_at, item.event, item.submission))
        card.items.append(item)
    return list(found.values())


def card_of(item: ReviewItem) -> Card:
    """The card that an open item stands on, with everything that stands on it."""
    shared = open_items().filter(code=item.code)
    shared = shared.filter(pk=item.pk) if item.event_id is None else shared.filter(event=item.event_id)
    return cards(shared.order_by("pk"))[0]


def record_before(piece: int, event: UUID) -> State:
    """What the record had of the piece just before an event reached it."""
    about, _ = cached([piece])[piece]
    places, loose = Place.objects.as_world(), loose_reversals()
    folded = fold([*own_events([piece])[piece], *loose], GroupBook(loose), places, about)
    state = State()
    for each in folded.applied:
        if each.id == event:
            break
        state, _ = apply(state, each, places, about)
    return state


def may_have_been(card: Card) -> QuerySet[Piece]:
    """Pieces that one without a readable tag may have been: its type, where the record has it at what happened.

    Sent or come back: at the place it left, or on the road. Else: at the yard or site it was seen at, or on the road.
    """
    event = card.event
    if event is None or event.type_id is None:
        return Piece.objects.none()
    held = Piece.objects.held().filter(type=event.type_id)
    there = event.data.get("from_place")
    if there is None and event.place is not None and event.kind != Kind.RETURNED:
        there = event.place.parent_id or event.place_id
    if there is not None:
        return held.filter(Q(place=there) | Q(place__parent=there) | Q(place=None))
    return held.exclude(place__kind="yard").exclude(place__parent__kind="yard")
