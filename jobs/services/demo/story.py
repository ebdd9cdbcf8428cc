"""The life of one job of the demo, act by act. Each act is told when its time comes, among those of other jobs."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from django.utils import timezone

from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import GroupKind, Kind, Seen
from inventory.models import DamageReason, Piece, Place
from inventory.services.recording import record
from inventory.services.reports import Report
from jobs.models import Job, Pour
from jobs.services.demo.fleet import Fleet
from jobs.services.demo.jobs import Plot, working
from jobs.services.demo.picking import crates_for, gear_for
from jobs.services.demo.trucks import BETWEEN_SCANS, bring_back, clean_up, send
from jobs.services.jobs import change_job

Acts = Iterator[datetime]


def at(day: date, hour: float) -> datetime:
    return timezone.make_aware(datetime.combine(day, time(0))) + timedelta(hours=hour)


def day_before(day: date) -> date:
    """The working day before; the demo keeps no holidays."""
    day -= timedelta(days=1)
    return day - timedelta(days=max(0, day.weekday() - 4))


def tell(fleet: Fleet, plot: Plot, job: Job) -> Acts:
    """Yields the time of its next act, then does it when asked for the one after."""
    yield at(job.starts_on, 7)
    crates = crates_for(job.yard, 2) if plot.code in ("J-101", "J-104") else []
    send(fleet, job, gear_for(plot, job.yard), crates, at(job.starts_on, 7))
    change_job(job=job, stage=Job.Stage.RUNNING)
    below: Pour | None = None
    for pour in job.pours.select_related("place").order_by("cast_on"):
        yield from _pour(fleet, plot, job, pour, below)
        below = pour
    if plot.twist == "overdue" or job.ends_on is None:
        return
    yield at(job.ends_on, 8)
    stay_behind = 3 if plot.twist == "lost" else 0
    bring_back(fleet, job, at(job.ends_on, 8), stay_behind=stay_behind, oddities=plot.twist == "called off")
    change_job(job=job, stage=Job.Stage.BACK)
    yield at(working(job.ends_on + timedelta(days=3)), 7)
    clean_up(fleet, job, at(working(job.ends_on + timedelta(days=3)), 7), share=0.55)
    if plot.twist == "lost":
        yield at(working(job.ends_on + timedelta(days=11)), 9)
        _write_off(fleet, job, at(working(job.ends_on + timedelta(days=11)), 9))


def _pour(fleet: Fleet, plot: Plot, job: Job, pour: Pour, below: Pour | None) -> Acts:
    set_at, cast_at = at(day_before(pour.cast_on), 15), at(pour.cast_on, 10)
    strip_at = at(working(pour.cast_on + timedelta(days=2)), 7)
    yield set_at
    if below is None:
        _set_first(fleet, job, pour.place, set_at)
    else:
        _press(fleet, Kind.SET, below.place, set_at, place=pour.place)
    second = below is not None and pour.name == "Pour 2"
    if plot.twist == "called off" and second:
        yield cast_at
        _press(fleet, Kind.CALLED_OFF, pour.place, cast_at)
        _press(fleet, Kind.STRIPPED, pour.place, cast_at + timedelta(hours=3))
        _press(fleet, Kind.SET, pour.place, cast_at + timedelta(hours=5), place=pour.place)
        cast_at = at(working(pour.cast_on + timedelta(days=1)), 10)
        strip_at = at(working(cast_at.date() + timedelta(days=2)), 7)
    late = plot.twist == "late phone" and second
    if not late:
        yield cast_at
        _press(fleet, Kind.CAST, pour.place, cast_at)
    yield strip_at
    _press(fleet, Kind.STRIPPED, pour.place, strip_at)
    _bent(fleet, pour.place, strip_at)
    if late:  # the phone that saw the cast had no signal until the evening after the strip
        yield strip_at + timedelta(hours=10)
        _press(fleet, Kind.CAST, pour.place, cast_at, heard=strip_at + timedelta(hours=10))
    if not (plot.twist == "called off" and below is None):  # one pour of that job went up again uncleaned
        yield strip_at + timedelta(hours=5)
        _press(fleet, Kind.CLEANED, pour.place, strip_at + timedelta(hours=5))


def _set_first(fleet: Fleet, job: Job, place: Place, when: datetime) -> None:
    """The lowest level is set piece by piece, by scanning."""
    pieces = Piece.objects.held().filter(place=job.site).exclude(type__kind__in=["crate", "tool"]).order_by("pk")
    reports = [
        Report(Kind.SET, when + BETWEEN_SCANS * n, seq=n, tag=piece.label, place=place.pk)
        for n, piece in enumerate(pieces, start=1)
    ]
    last = when + BETWEEN_SCANS * (len(reports) + 1)
    record(reports, by=fleet.people["lead"], device=fleet.slab_phone, device_now=last, now=last)


def _press(
    fleet: Fleet, kind: Kind, pour: Place, when: datetime, *, place: Place | None = None, heard: datetime | None = None
) -> None:
    """One press for the whole pour."""
    report = Report(
        kind, when, group=Group(GroupKind.POUR, pour.pk), place=place.pk if place else None, seen=Seen.BY_GROUP
    )
    now = heard or when
    record([report], by=fleet.people["lead"], device=fleet.slab_phone, device_now=now, now=now)


def _bent(fleet: Fleet, pour: Place, when: datetime) -> None:
    """Seldom, something is found bent at the strip."""
    pieces = list(Piece.objects.held().filter(pour=pour).order_by("pk"))
    if not pieces or fleet.rng.random() < 0.3:
        return
    piece = fleet.rng.choice(pieces)
    reason = fleet.rng.choice(list(DamageReason.objects.order_by("pk")))
    said = {"grade": reason.usual_grade, "reason": reason.words}
    report = Report(Kind.FOUND_DAMAGED, when, seq=9000, tag=piece.label, place=piece.place_id, data=said)
    record([report], by=fleet.people["lead"], device=fleet.slab_phone, device_now=when, now=when)


def _write_off(fleet: Fleet, job: Job, when: datetime) -> None:
    """Asked for twice and not found: two of the three that stayed behind are lost."""
    pieces = Piece.objects.held().within(job.site).order_by("pk")[:2]
    reports = [Report(Kind.LOST, when, piece=piece.pk, seen=Seen.TYPED) for piece in pieces]
    record(reports, by=fleet.people["manager"], now=when)
