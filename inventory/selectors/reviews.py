"""What waits for a person to settle: one card for each contradiction, however many pieces share it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from django.db.models import QuerySet

from inventory.lifecycle.fold import apply, fold
from inventory.lifecycle.sentences import sentence
from inventory.lifecycle.state import State
from inventory.models import Event, Piece, Place, ReviewItem, Submission
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


def open_items() -> QuerySet[ReviewItem]:
    joined = (
        "event__place",
        "event__person",
        "event__type",
        "event__docket",
        "piece__type",
        "submission__batch__person",
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


def still_out(card: Card) -> QuerySet[Piece]:
    """Pieces that one without a readable tag may have been: its type, at the site it came from, or on the road."""
    event = card.event
    if event is None or event.type_id is None:
        return Piece.objects.none()
    out = Piece.objects.held().filter(type=event.type_id)
    if (site := event.data.get("from_place")) is not None:
        return out.filter(place=site) | out.filter(place__parent=site) | out.filter(place=None)
    return out.exclude(place__kind="yard").exclude(place__parent__kind="yard")
