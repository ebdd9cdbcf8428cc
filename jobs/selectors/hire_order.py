"""Three lists that are empty when the yard is in order: overdue; returned, not billed off; billed, not on site."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any, NamedTuple

from django.db.models.functions import Coalesce
from django.utils import timezone

from inventory.lifecycle.kinds import GroupKind, Kind, PlaceKind, Standing
from inventory.models import Docket, Event, GearType, GroupMember, Piece
from inventory.selectors.ledger import chunked
from jobs.hire.codec import read
from jobs.hire.stays import Facts, Stay, day_of
from jobs.models import Bill, Job


@dataclass(frozen=True)
class Off:
    """A piece that the bills and the yard do not agree on."""

    piece: Piece
    job: Job
    bill: Bill | None
    since: datetime | None
    words: str


class Leaving(NamedTuple):
    """A piece left a site (None: whichever it was on) at that time."""

    site: int | None
    at: datetime


def overdue(today: date) -> list[Off]:
    """Gear on a site after the day it was due back."""
    late = {job.site_id: job for job in Job.objects.filter(ends_on__lt=today).select_related("customer")}
    pieces = Piece.objects.held().annotate(root=Coalesce("place__parent", "place")).filter(root__in=late)
    return [
        Off(piece, job, None, piece.since, f"due back {(today - (job.ends_on or today)).days} days ago")
        for piece in pieces.select_related("type", "place").order_by("root", "pk")
        if (job := late[piece.root])
    ]


def last_bills() -> list[Bill]:
    """The newest standing bill of each job."""
    found: dict[int, Bill] = {}
    for bill in Bill.objects.standing().select_related("job__customer").order_by("pk"):
        found[bill.job_id] = bill
    return list(found.values())


def bills_against_yard(today: date) -> tuple[list[Off], list[Off]]:
    """(returned, not billed off), (billed, not on site): stays that the last bill has open, against where gear is.

    The first is gear that came back or left that site by a docket, and perhaps went out again since, which the customer
    has no bill for, although it left before that bill's end or the month it left in is over: the next bill puts it
    right. The second is gear billed as out that is neither on that site, nor on a truck to it, nor known to have left
    it: look for it. What was lost or sold after the bill's end is in order until its month is over.
    """
    counted = GearType.objects.filter(tracked=GearType.Tracked.BY_COUNT)
    by_count = set(counted.values_list("code", flat=True))
    open_stays = [(bill, stay) for bill in last_bills() for stay in _open(bill, by_count)]
    pieces = _pieces([int(stay.id.rpartition("/")[2]) for _, stay in open_stays])
    leavings = _leavings(pieces)
    returned: list[Off] = []
    astray: list[Off] = []
    for bill, stay in open_stays:
        piece = pieces.get(int(stay.id.rpartition("/")[2]))
        if piece is None or piece.root == bill.job.site_id or _on_the_way(piece, bill.job):
            continue
        left = _first_leaving(leavings[piece.pk], bill.job.site_id, _moment(stay.out))
        in_yard = piece.root_kind == "yard" and piece.standing == Standing.HELD
        moved = left or piece.since
        in_time = moved is not None and _waits_for_its_bill(moved, bill, today)
        off = Off(piece, bill.job, bill, moved, _where(piece))
        if left is not None or in_yard:
            returned += [] if in_time else [off]
        elif not (in_time and piece.standing != Standing.HELD):
            astray.append(off)
    return returned, astray


def _waits_for_its_bill(moved: datetime, bill: Bill, today: date) -> bool:
    """Whether it moved after the bill's end, in a month that is not over: the bill for that is still to come."""
    day = timezone.localdate(moved)
    return day >= bill.period_until and (day.year, day.month) == (today.year, today.month)


def _moment(when: date) -> datetime:
    return when if isinstance(when, datetime) else timezone.make_aware(datetime.combine(when, time.min))


def _leavings(pieces: Iterable[int]) -> dict[int, list[Leaving]]:
    """When each piece left a site by a docket from there, or any site by being counted back in a yard."""
    found: dict[int, list[Leaving]] = defaultdict(list)
    for ids in chunked(sorted(pieces)):
        of_docket: dict[int, list[int]] = defaultdict(list)
        members = GroupMember.objects.filter(group_kind=GroupKind.DOCKET, piece__in=ids)
        for piece, docket in members.values_list("piece", "group_id"):
            of_docket[docket].append(piece)
        gone = Docket.objects.filter(pk__in=of_docket, cancelled_at=None)
        for docket, site, at in gone.values_list("pk", "from_place", "left_at"):
            if at is not None:
                for piece in of_docket[docket]:
                    found[piece].append(Leaving(site, at))
        counted = Event.objects.filter(kind=Kind.RETURNED, piece__in=ids, place__kind=PlaceKind.YARD)
        for piece, at in counted.order_by().values_list("piece", "happened_at"):
            found[piece].append(Leaving(None, at))
    return found


def _first_leaving(leavings: Iterable[Leaving], site: int, out: datetime) -> datetime | None:
    return min((one.at for one in leavings if one.site in (None, site) and one.at > out), default=None)


def _open(bill: Bill, by_count: set[str]) -> list[Stay]:
    """Tagged pieces that a bill has on hire to its end."""
    facts: Facts = read(Facts, bill.facts, "facts")
    return [
        stay
        for stay in facts.stays
        if stay.type not in by_count and (stay.back is None or day_of(stay.back) >= bill.period_until)
    ]


def _pieces(ids: list[int]) -> dict[int, Any]:
    rows = (
        Piece.objects.filter(pk__in=ids)
        .select_related("type", "place", "docket__to_place", "docket__from_place")
        .annotate(root=Coalesce("place__parent", "place"), root_kind=Coalesce("place__parent__kind", "place__kind"))
    )
    return {piece.pk: piece for piece in rows}


def _on_the_way(piece: Piece, job: Job) -> bool:
    docket = piece.docket
    if piece.place_id is not None or docket is None or piece.standing != Standing.HELD:
        return False
    return job.site_id in (docket.to_place_id, docket.from_place_id)


def _where(piece: Piece) -> str:
    if piece.standing != Standing.HELD:
        return str(piece.standing)
    if piece.place is not None:
        return f"at {piece.place}"
    return f"on {piece.docket}" if piece.docket else "at no place known"
