"""The cached quantities of counted goods, brought up to date after new events."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from uuid import UUID

from inventory.lifecycle.counted import Goods, Spot, fold_counted
from inventory.lifecycle.events import Event, Group
from inventory.lifecycle.kinds import Fitness, GroupKind
from inventory.lifecycle.sentences import FOLD_CODES, is_loud
from inventory.lifecycle.world import Places
from inventory.models import CountedStock, Docket, ReviewItem
from inventory.models import Event as EventRow
from inventory.selectors.ledger import GroupBook, events_where, loose_reversals
from inventory.services.projecting import SETTLED_ITSELF


def types_touched(new: Iterable[Event]) -> set[int]:
    """Types whose quantities new events may change: named by them, or on a docket that was pressed."""
    events = list(new)
    types = {e.type for e in events if e.type is not None and e.piece is None}
    dockets = {e.group.id for e in events if e.group is not None and e.group.kind == GroupKind.DOCKET}
    if dockets:
        rows = EventRow.objects.filter(docket__in=dockets, type__isnull=False).order_by()
        types |= set(rows.values_list("type_id", flat=True).distinct())
    return types


def goods_of(type_id: int, places: Places, loose: Sequence[Event] = ()) -> Goods:
    """The quantities of one type, folded from its beginning. A piece without a readable tag is no quantity."""
    own = [e for e in events_where('e."type_id" = %s', [type_id]) if not e.data.get("untagged")]
    dockets = {e.docket for e in own if e.docket is not None}
    book = GroupBook(loose)
    book.fetch(Group(GroupKind.DOCKET, pk) for pk in dockets)
    start = dict(Docket.objects.filter(pk__in=dockets).order_by().values_list("pk", "from_place"))
    return fold_counted([*own, *loose], book, start, places)


def stored_of(type_id: int) -> dict[Spot, int]:
    rows = CountedStock.objects.filter(type=type_id).order_by()
    return {
        Spot(place, docket, Fitness(condition)): quantity
        for place, docket, condition, quantity in rows.values_list("place_id", "docket_id", "condition", "quantity")
    }


def write_quantities(type_id: int, goods: Goods) -> None:
    """The only writer of counted stock."""
    standing = goods.standing()
    if standing == stored_of(type_id):
        return
    CountedStock.objects.filter(type=type_id).delete()
    CountedStock.objects.bulk_create(
        CountedStock(type_id=type_id, place_id=s.place, docket_id=s.docket, condition=s.condition, quantity=quantity)
        for s, quantity in standing.items()
    )


def _review(type_id: int, goods: Goods, now: datetime) -> None:
    found = {(f.event, f.code) for f in goods.findings}
    items = ReviewItem.objects.filter(piece=None, event__type=type_id, code__in=FOLD_CODES)
    had = {(item.event_id, item.code): item for item in items}
    gone = [item.pk for key, item in had.items() if key not in found and item.settled_at is None]
    back = [item.pk for key, item in had.items() if key in found and item.settled_at and item.how == SETTLED_ITSELF]
    ReviewItem.objects.filter(pk__in=gone).update(settled_at=now, how=SETTLED_ITSELF)
    ReviewItem.objects.filter(pk__in=back).update(settled_at=None, how="")
    ReviewItem.objects.bulk_create(
        ReviewItem(code=code, event_id=event, loud=is_loud(code), opened_at=now) for event, code in found - had.keys()
    )


def count(new: Sequence[Event], places: Places, now: datetime) -> dict[UUID, list[str]]:
    """Bring every type that the new events reach up to date. Returns the codes found, by event."""
    types, codes = types_touched(new), dict[UUID, list[str]]()
    loose = loose_reversals() if types else ()
    for type_id in sorted(types):
        goods = goods_of(type_id, places, loose)
        write_quantities(type_id, goods)
        _review(type_id, goods, now)
        for finding in goods.findings:
            codes.setdefault(finding.event, []).append(finding.code)
    return codes
