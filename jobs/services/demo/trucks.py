"""The trucks of the demo's jobs: out from the yard, and back to it with what the job did to the gear."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime, timedelta

from inventory.lifecycle.kinds import Fitness, Kind, Seen
from inventory.models import DamageReason, Docket, Piece
from inventory.services import docket_scans, dockets
from inventory.services.recording import record
from inventory.services.reports import Report
from inventory.tags import code as tag_code
from jobs.models import Job
from jobs.services.demo.fleet import Fleet
from jobs.services.demo.jobs import reserve

LIMIT_KG = 12_000
BETWEEN_SCANS = timedelta(seconds=9)
GOODS = (("M12-SB", 160), ("M12-FB", 120), ("M12x50-IN", 90), ("M12-SC", 90), ("M12-WA", 90), ("SF-1", 60))


def send(fleet: Fleet, job: Job, pieces: Sequence[Piece], crates: Sequence[Piece], at: datetime) -> Docket:
    """Opened with what is wanted, loaded by scanning, left, and received at one press."""
    wanted = Counter(piece.type_id for piece in [*pieces, *crates])
    docket = dockets.open_docket(
        from_place=job.yard,
        to_place=job.site,
        by=fleet.people["manager"],
        wanted=wanted,
        vehicle="TRUCK 1",
        payload_limit_kg=LIMIT_KG,
        driver="Demo Driver",
        planned_on=at.date(),
        now=at,
    )
    reserve(job, wanted, docket)
    for code, quantity in GOODS:
        docket_scans.move_goods(docket, fleet.types[code], quantity, by=fleet.people["hand"], now=at)
    load(fleet, docket, pieces, at + timedelta(minutes=10))
    for number, crate in enumerate(crates):
        scan = docket_scans.Scan(piece=crate, by=fleet.people["hand"])
        docket_scans.load(docket, scan, now=at + timedelta(minutes=100 + number))
    away(fleet, docket, at + timedelta(hours=2), at + timedelta(hours=3))
    dockets.close(docket, now=at + timedelta(hours=5))
    return docket


def load(fleet: Fleet, docket: Docket, pieces: Sequence[Piece], at: datetime) -> None:
    """The batch that the yard's phone sends when the truck is full."""
    data = {"from_place": docket.from_place_id}
    reports = [
        Report(Kind.SENT, at + BETWEEN_SCANS * n, seq=n, tag=piece.label, docket=docket.pk, data=data)
        for n, piece in enumerate(pieces, start=1)
    ]
    last = at + BETWEEN_SCANS * (len(reports) + 1)
    record(reports, by=fleet.people["hand"], device=fleet.yard_phone, device_now=last, now=last)


def away(fleet: Fleet, docket: Docket, left: datetime, there: datetime, *, whole: bool = True) -> None:
    signed = "M60 120L110 60L150 140L210 70L260 130L330 80L420 110"
    dockets.leave(
        docket,
        by=fleet.people["hand"],
        vehicle="TRUCK 1",
        driver="Demo Driver",
        signed_by="Demo Driver",
        signature=signed,
        now=left,
    )
    dockets.receive(docket, by=fleet.people["lead"], signed_by="Demo Lead", signature=signed, whole=whole, now=there)


def bring_back(fleet: Fleet, job: Job, at: datetime, *, stay_behind: int = 0, oddities: bool = False) -> Docket:
    """Loaded on the site, counted in the yard piece by piece, clean or dirty, some of it bent."""
    pieces = list(Piece.objects.held().within(job.site).select_related("type").order_by("pk"))
    pieces = pieces[: len(pieces) - stay_behind]
    docket = dockets.open_docket(
        from_place=job.site,
        to_place=job.yard,
        by=fleet.people["lead"],
        vehicle="TRUCK 1",
        payload_limit_kg=LIMIT_KG,
        driver="Demo Driver",
        now=at,
    )
    load(fleet, docket, pieces, at + timedelta(minutes=5))
    away(fleet, docket, at + timedelta(hours=2), at + timedelta(hours=3), whole=False)
    counted = pieces[:-1] if oddities else pieces
    _count_in(fleet, docket, counted, at + timedelta(hours=4))
    if oddities:
        _odd_ones(fleet, docket, at + timedelta(hours=6))
    else:
        dockets.close(docket, now=at + timedelta(hours=7))
    return docket


def _count_in(fleet: Fleet, docket: Docket, pieces: Sequence[Piece], at: datetime) -> None:
    reasons = list(DamageReason.objects.order_by("pk"))
    reports: list[Report] = []
    for number, piece in enumerate(pieces):
        when = at + BETWEEN_SCANS * number
        dirty = piece.dirty or fleet.rng.random() < 0.35
        data = {"dirty": dirty, "from_place": docket.from_place_id}
        place, seq = docket.to_place_id, 2 * number + 1
        reports.append(Report(Kind.RETURNED, when, seq=seq, tag=piece.label, place=place, docket=docket.pk, data=data))
        if fleet.rng.random() < 0.05:
            reason = fleet.rng.choice(reasons)
            said = {"grade": reason.usual_grade, "reason": reason.words}
            reports.append(Report(Kind.FOUND_DAMAGED, when, seq=seq + 1, tag=piece.label, place=place, data=said))
    last = at + BETWEEN_SCANS * (len(pieces) + 1)
    record(reports, by=fleet.people["hand"], device=fleet.yard_phone, device_now=last, now=last)


def _odd_ones(fleet: Fleet, docket: Docket, at: datetime) -> None:
    """What every yard has: a tag nobody knows, a piece without one, a piece of another job, a count that differs."""
    hand = fleet.people["hand"]
    form = fleet.types["E175-3000-1"]
    docket_scans.come_back(docket, docket_scans.Scan(code=tag_code.make(fleet.rng), by=hand), dirty=True, now=at)
    docket_scans.untagged_back(docket, form, by=hand, dirty=True, now=at + timedelta(minutes=1))
    elsewhere = Piece.objects.held().filter(place__kind="site").exclude(place=docket.from_place).order_by("pk")
    for piece in elsewhere[:1]:
        scan = docket_scans.Scan(code=piece.label, piece=piece, by=hand)
        docket_scans.come_back(docket, scan, dirty=True, now=at + timedelta(minutes=2))
    dockets.hand_count(docket, who="driver", counts={form.pk: 5})


def clean_up(fleet: Fleet, job: Job, at: datetime, share: float) -> None:
    """In the wash bay, days later: most of what came back dirty; and what is on watch is looked at."""
    bay = job.yard.parts.get(name="Wash bay")
    dirty = list(Piece.objects.dirty().within(job.yard).order_by("pk"))
    chosen = dirty[: int(len(dirty) * share)]
    reports = [
        Report(Kind.CLEANED, at + BETWEEN_SCANS * n, seq=n, tag=piece.label, place=bay.pk)
        for n, piece in enumerate(chosen, start=1)
    ]
    watched = Piece.objects.held().within(job.yard).filter(fitness=Fitness.WATCH).order_by("pk")[:3]
    reports += [
        Report(
            Kind.INSPECTED,
            at + timedelta(hours=2, minutes=n),
            seq=5000 + n,
            tag=piece.label,
            place=job.yard_id,
            seen=Seen.SCANNED,
            data={"grade": "sound", "reason": "looked over"},
        )
        for n, piece in enumerate(watched)
    ]
    last = at + timedelta(hours=4)
    record(reports, by=fleet.people["hand"], device=fleet.yard_phone, device_now=last, now=last)
