"""From a bill's line to its stays, and from a stay to the scans that made it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Q
from django.utils import timezone

from inventory.lifecycle.kinds import GroupKind
from inventory.models import Docket, Event, GroupMember, Piece
from jobs.hire.book import Book
from jobs.hire.codec import read
from jobs.hire.stays import Facts, Stay
from jobs.models import Bill, BillLine, HireCharge


@dataclass(frozen=True)
class StayRow:
    """One stay of a line: whose it was, when, and what it came to."""

    number: int
    stay: Stay
    piece: Piece | None
    days: int | None
    amount: str
    units: str
    starts: date
    ends: date | None

    @property
    def label(self) -> str:
        return self.piece.label if self.piece else f"{self.stay.count} x {self.stay.type}"

    @property
    def out(self) -> date:
        return _local(self.stay.out)

    @property
    def back(self) -> date | None:
        return _local(self.stay.back) if self.stay.back else None


def _local(when: date) -> date:
    return timezone.localtime(when) if isinstance(when, datetime) else when


def line_stays(bill: Bill, line: BillLine) -> list[StayRow]:
    """The stays of a line, as the bill was computed from them; a credit note's are those of its bill."""
    source = bill.credits or bill
    facts: Facts = read(Facts, source.facts, "facts")
    wanted = set(line.stays)
    stays = [one for one in facts.stays if one.id in wanted]
    parts: dict[str, list[dict[str, Any]]] = {}
    for part in line.parts:
        parts.setdefault(part["stay"], []).append(part)
    ids = {piece for one in stays if (piece := one.id.rpartition("/")[2]).isdigit() and _tagged(one)}
    pieces = {str(piece.pk): piece for piece in Piece.objects.filter(pk__in=ids).select_related("type")}
    book = Book(facts)
    return [
        StayRow(number, one, _piece(one, pieces), *_said(parts.get(one.id, [])), *_bounds(book, one, source))
        for number, one in enumerate(stays)
    ]


def _bounds(book: Book, stay: Stay, bill: Bill) -> tuple[date, date | None]:
    """What starts and what ends its hire by the terms, as the reader's clock has it."""
    starts, ends = book.bounds(stay, bill.period_until)
    return _local(starts), _local(ends) if ends else None


def _tagged(stay: Stay) -> bool:
    return stay.count == 1


def _piece(stay: Stay, pieces: dict[str, Piece]) -> Piece | None:
    """The piece of a stay; goods tracked by count have a number there instead, of another type."""
    found = pieces.get(stay.id.rpartition("/")[2])
    return found if found is not None and found.type.code == stay.type else None


def _said(parts: Sequence[dict[str, Any]]) -> tuple[int | None, str, str]:
    days = next((part["days"] for part in parts if part["days"] is not None), None)
    units = "; ".join(f"{_counted(unit)} at {unit['rate']}" for part in parts for unit in part["units"])
    return days, " + ".join(part["amount"] for part in parts), units


def scans_of(row: StayRow, bill: Bill) -> list[Event]:
    """Every event of the piece, or of a group it was in, from just before the stay to just after it, in order."""
    first = _moment(row.stay.out) - timedelta(days=1)
    last = _moment(row.stay.back) + timedelta(days=1) if row.stay.back else bill.known_at
    between = Event.objects.filter(happened_at__gte=first, happened_at__lte=last)
    if row.piece is None:
        named = [one for one in (row.stay.out_event, row.stay.back_event) if one]
        rows = Event.objects.filter(pk__in=[one.partition(":")[0] for one in named])
    else:
        groups = Q()
        for kind, pk in GroupMember.objects.filter(piece=row.piece).values_list("group_kind", "group_id"):
            groups |= Q(group_kind=kind, group_id=pk, piece=None)
        rows = between.filter(Q(piece=row.piece) | groups) if groups else between.filter(piece=row.piece)
    named_rows = rows.select_related("person", "place__parent", "docket", "piece", "type")
    return list(named_rows.order_by("happened_at", "seq"))


def scans_of_charge(bill: Bill, line: BillLine) -> list[Event]:
    """The events that a charge stands on by itself: damage found, goods sent or come back, a truck's leaving."""
    _, _, name = line.key.partition("charge:")
    kept = (bill.credits or bill).facts.get("charges", [])
    found = next((one for one in kept if f"{one['kind']}:{one.get('id', '')}" == name), None)
    if found is None:
        return []
    event = found.get("event", "").partition(":")[0]
    rows = Q(pk=event) if event else Q(pk=None)
    if line.kind == "delivery":
        dockets = Docket.objects.filter(number=found.get("id", "")).values("pk")
        rows |= Q(group_kind=GroupKind.DOCKET, group_id__in=dockets, piece=None)
    events = Event.objects.filter(rows, recorded_at__lte=bill.known_at)
    return list(events.select_related("person", "place__parent", "docket", "piece").order_by("happened_at", "seq"))


def desk_charge(line: BillLine) -> HireCharge | None:
    """The desk's own note behind a line, if that is what made it."""
    number = line.key.rpartition(":desk-")[2]
    if not line.key.startswith("charge:") or not number.isdigit():
        return None
    return HireCharge.objects.select_related("recorded_by", "withdrawn_by").filter(pk=int(number)).first()


def _moment(when: date) -> datetime:
    if isinstance(when, datetime):
        return when
    return timezone.make_aware(datetime.combine(when, datetime.min.time()))


def _counted(unit: dict[str, Any]) -> str:
    """ "1 week", "3 days", "17/7 weeks"."""
    return f"{unit['units']} {unit['per']}" + ("" if unit["units"] == "1" else "s")
