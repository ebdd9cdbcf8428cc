"""A file of counted goods against the books. A row is a count: it says how many there are, not how many more."""

from __future__ import annotations

from datetime import datetime, time

from django.utils import timezone

from inventory.lifecycle.kinds import Fitness, Kind
from inventory.models import CountedStock, Event, GearType, Place
from inventory.services.importing.checking_pieces import judge_place
from inventory.services.importing.findings import Checked, CheckedRow, Outcome

Spot = tuple[int, int, str]


def check_counted(checked: Checked, now: datetime) -> None:
    types = {each.code.lower(): each for each in GearType.objects.all()}
    places = {str(place).lower(): place for place in Place.objects.in_use().select_related("parent")}
    stock = CountedStock.objects.filter(docket=None).values_list("type", "place", "condition", "quantity")
    on_books: dict[Spot, int] = {(kind, place, condition): quantity for kind, place, condition, quantity in stock}
    lines: dict[Spot, int] = {}
    for row in checked.rows:
        kind = _kind(row, types)
        if row.values.get("place"):
            judge_place(row, places, set())
        day = row.values.get("counted_on")
        if day and day > timezone.localdate(now):
            row.fault("counted on", "This day is still to come: a count is of today or earlier.")
        if not row.faults and kind is not None:
            _judge(row, kind, on_books, lines)


def _kind(row: CheckedRow, types: dict[str, GearType]) -> GearType | None:
    said = row.values.get("type")
    if not said:
        return None
    kind = types.get(said.lower())
    if kind is None:
        row.fault("type", f"No type “{said}” in the catalogue: bring in or enter its type first.")
    elif kind.tracked != GearType.Tracked.BY_COUNT:
        row.fault("type", f"{kind.code} is tagged, not counted: bring its pieces in one by one.")
    return kind


def _judge(row: CheckedRow, kind: GearType, on_books: dict[Spot, int], lines: dict[Spot, int]) -> None:
    condition = row.values.get("condition") or Fitness.SOUND.value
    place: Place = row.values["place"]
    spot = (kind.pk, place.pk, condition)
    if spot in lines:
        row.fault("", f"The same type, place and condition stand on line {lines[spot]}: add the two up.")
        return
    lines[spot] = row.line
    row.about = kind
    row.values["condition"] = condition
    had = _counted_that_day(row, spot) if row.values.get("counted_on") else on_books.get(spot)
    quantity = row.values["quantity"]
    if had is None:
        row.outcome = Outcome.NEW if quantity else Outcome.SAME
    else:
        row.outcome = Outcome.SAME if had == quantity else Outcome.CHANGED
        row.changes = () if had == quantity else (f"quantity (was {had:,})",)


def _counted_that_day(row: CheckedRow, spot: Spot) -> int | None:
    kind, place, condition = spot
    start = timezone.make_aware(datetime.combine(row.values["counted_on"], time.min))
    end = timezone.make_aware(datetime.combine(row.values["counted_on"], time.max))
    counts = Event.objects.filter(type=kind, kind=Kind.COUNTED, place=place, happened_at__range=(start, end))
    for event in counts.order_by("-happened_at", "-seq"):
        if event.data.get("condition", Fitness.SOUND.value) == condition:
            return event.quantity
    return None
