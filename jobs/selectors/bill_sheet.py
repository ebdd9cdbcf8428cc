"""A bill as it reads on paper and on the customer's page: by docket, by type, with photos and what came back.

All of it from what was frozen with the bill; only the tags of pieces, the photos and the numbers of the dockets that
brought gear back are looked up.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from functools import cached_property
from typing import Any
from uuid import UUID

from django.db.models import Q
from django.utils import timezone
from django.utils.dateparse import parse_date, parse_datetime

from inventory.lifecycle.kinds import GroupKind
from inventory.models import Docket, Event, GearType, Photo, Piece
from jobs.currencies import minor_units
from jobs.models import Bill, BillLine

TIME = ("hire", "use", "minimum")
NIL = Decimal(0)


@dataclass(frozen=True)
class Section:
    """The lines of one docket, in their order; `docket` is empty for those of none."""

    docket: str
    rows: tuple[BillLine, ...]

    @property
    def net(self) -> Decimal:
        return sum((one.net for one in self.rows), NIL)


@dataclass
class OfType:
    """What one type of gear comes to: for time and uses, and for everything else (damage, loss, cleaning, sales)."""

    code: str
    name: str
    hire: Decimal = NIL
    other: Decimal = NIL

    @property
    def net(self) -> Decimal:
        return self.hire + self.other


@dataclass
class Returned:
    """Gear of one type that went out and came back (or did not) together, as the bill has it."""

    type: str
    out: date
    out_docket: str
    back: date | None
    back_docket: str
    ended: str
    count: int = 0
    tags: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Shown:
    """A photo of damage that was charged, with the line that charges it."""

    photo: Photo
    line: BillLine


class BillSheet:
    """One bill, read once."""

    def __init__(self, bill: Bill) -> None:
        self.bill = bill
        self.places = minor_units(bill.currency)
        self.lines = list(bill.lines.all())
        self.taxes = list(bill.taxes.all())
        self.facts: dict[str, Any] = (bill.credits or bill).facts

    def money(self, amount: Decimal) -> str:
        """An amount with its currency's decimals: 1,234.50."""
        return f"{amount:,.{self.places}f}"

    @cached_property
    def sections(self) -> list[Section]:
        """By docket, in the order in which the bill first names them; lines of none come last."""
        found: dict[str, list[BillLine]] = {}
        for one in self.lines:
            found.setdefault(one.docket, []).append(one)
        return [Section(name, tuple(found[name])) for name in sorted(found, key=lambda name: not name)]

    @cached_property
    def by_type(self) -> list[OfType]:
        """By type, in the order of their codes; what is for no type comes last."""
        names = dict(
            GearType.objects.filter(code__in={one.type_code for one in self.lines}).values_list("code", "name")
        )
        found: dict[str, OfType] = {}
        for line in self.lines:
            one = found.setdefault(line.type_code, OfType(line.type_code, names.get(line.type_code, "")))
            if line.kind in TIME or line.key.partition(":")[0] in TIME:
                one.hire += line.net
            else:
                one.other += line.net
        return sorted(found.values(), key=lambda one: (not one.code, one.code))

    # What it was made from

    @cached_property
    def photos(self) -> list[Shown]:
        """Photos of the damage that the bill charges."""
        events = {f"charge:{one['kind']}:{one.get('id', '')}": one.get("event") for one in self._charges}
        of_event = {UUID(events[line.key]): line for line in self.lines if events.get(line.key)}
        return [Shown(one, of_event[one.event_id]) for one in Photo.objects.filter(event_id__in=of_event)]

    @property
    def _charges(self) -> Iterable[dict[str, Any]]:
        return [one for one in self.facts.get("charges", []) if one["kind"] == "damage"]

    @cached_property
    def returned(self) -> list[Returned]:
        """What went out and what came back, alike gear together."""
        stays = self.facts.get("stays", [])
        labels = _labels(stays)
        dockets = _dockets_of(one.get("back_event", "") for one in stays)
        found: dict[tuple[Any, ...], Returned] = {}
        for one in stays:
            back, event = _day(one.get("back")), one.get("back_event", "")
            ended = one.get("end", "returned") if back else "still out"
            out, on = _day(one["out"]) or date.min, one.get("line", "")
            group = (one["type"], out, on, back, dockets.get(event, ""), ended)
            row = found.setdefault(group, Returned(one["type"], out, on, back, dockets.get(event, ""), ended))
            row.count += one.get("count", 1)
            label = labels.get((_piece(one), one["type"]))
            row.tags += [label] if label else []
        return sorted(found.values(), key=lambda one: (one.out, one.type, one.back or date.max))

    @cached_property
    def dockets(self) -> list[Docket]:
        """The dockets that carried what is on the bill, to this job's site or from it, and no others."""
        numbers = {one.docket for one in self.lines} | {one.out_docket for one in self.returned}
        numbers |= {one.back_docket for one in self.returned}
        ours = Q(from_place=self.bill.job.site_id) | Q(to_place=self.bill.job.site_id)
        rows = Docket.objects.filter(ours, number__in=numbers - {""}, cancelled_at=None)
        return list(rows.select_related("from_place", "to_place").order_by("opened_at", "pk"))


def _piece(stay: dict[str, Any]) -> int:
    """The key of a stay's piece, 0 where there is none: a tagged piece's stay is named by its event and its key."""
    piece = stay["id"].rpartition("/")[2]
    return int(piece) if stay.get("count", 1) == 1 and piece.isdecimal() else 0


def _labels(stays: Iterable[dict[str, Any]]) -> dict[tuple[int, str], str]:
    """Tags by piece and type: goods tracked by count have a mere number in place of a piece, of another type."""
    rows = Piece.objects.filter(pk__in={_piece(one) for one in stays} - {0})
    return {(pk, code): label for pk, code, label in rows.values_list("pk", "type__code", "label")}


def _day(text: str | None) -> date | None:
    if not text:
        return None
    moment = parse_datetime(text) if "T" in text else None
    return timezone.localdate(moment) if isinstance(moment, datetime) else parse_date(text)


def _dockets_of(events: Iterable[str]) -> dict[str, str]:
    """The docket's number of each event that came by one."""
    ids = {one: one[:36] for one in events if one}
    rows = Event.objects.filter(pk__in=_uuids(ids.values()))
    of_event: dict[str, int] = {}
    for pk, docket, kind, group in rows.values_list("pk", "docket_id", "group_kind", "group_id"):
        found = docket or (group if kind == GroupKind.DOCKET else None)
        if found:
            of_event[str(pk)] = found
    numbers = dict(Docket.objects.filter(pk__in=set(of_event.values())).values_list("pk", "number"))
    return {one: numbers[of_event[pk]] for one, pk in ids.items() if of_event.get(pk) in numbers}


def _uuids(texts: Iterable[str]) -> set[UUID]:
    found: set[UUID] = set()
    for one in texts:
        try:
            found.add(UUID(one))
        except ValueError:
            continue
    return found
