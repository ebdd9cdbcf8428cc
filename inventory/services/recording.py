"""The ledger's only writer: reports come in, events are stored, states follow, each report is answered.

All of a batch is stored or none of it. One batch is written at a time: SQLite takes its write lock at BEGIN, and on
PostgreSQL an advisory lock does the same, since a press on a group and a piece joining that group must see each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import connection, transaction
from django.utils import timezone

from inventory.lifecycle.events import Event
from inventory.lifecycle.kinds import Fitness, GroupKind, Kind
from inventory.lifecycle.sentences import is_loud
from inventory.models import Batch, Device, Person, Piece, ReviewItem, Submission, YardSettings
from inventory.models import Event as EventRow
from inventory.services.answering import Answer, Manner, again, kept, recorded, refused, unreadable
from inventory.services.counting import count
from inventory.services.projecting import project
from inventory.services.reports import Report, Unreadable, digest
from inventory.services.resolving import Clock, Known, Problem, known_for, resolve

__all__ = ["Answer", "Manner", "record"]

LEDGER_LOCK = 7_241_901
"""Any number, the same for every process: PostgreSQL's advisory lock on writing the ledger."""
MAY_BE_REFUSED = frozenset({Kind.SENT, Kind.SET})


@dataclass
class Work:
    """One call of `record`: what came, what is new, what each report is answered."""

    known: Known
    clock: Clock
    manner: Manner
    override: str
    device: str
    settles: bool = False
    reports: dict[UUID, Report] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)
    answers: dict[int, Answer] = field(default_factory=dict)
    fresh: dict[int, str] = field(default_factory=dict)
    flags: dict[UUID, list[str]] = field(default_factory=dict)


def record(
    reports: Sequence[Report | Unreadable],
    *,
    by: Person | None,
    device: Device | None = None,
    manner: Manner = Manner.TELL,
    override: str = "",
    device_now: datetime | None = None,
    version: int = 1,
    now: datetime | None = None,
    settles: bool = False,
) -> list[Answer]:
    """Record what is reported and answer each report, in the same order.

    by, device   who, and with what; no device is the desk
    manner       ASK before it happens (unfit gear is refused), TELL when it has happened (never refused)
    override     a manager's reason for sending or setting unfit gear all the same; it stays with the event
    device_now   the device's clock as it sent; times are corrected by how far it is off
    version      of the words the device used
    now          the time of receipt
    settles      the reports are what a person made of some that were kept for review: their ids have been had before
    """
    reports, now = list(reports), now or timezone.now()
    if not reports:
        return []
    with transaction.atomic():
        one_writer_at_a_time()
        work = Work(
            known_for([report for report in reports if isinstance(report, Report)]),
            _clock(device_now, now),
            manner,
            override.strip(),
            device.code if device else "",
            settles,
        )
        _sort_out(reports, work)
        if work.fresh:
            batch = _batch(work, by, device, device_now, version)
            _store(reports, work, by, batch)
    return [work.answers[at] for at in range(len(reports))]


def one_writer_at_a_time() -> None:
    """Inside a transaction: nobody else writes the ledger until it ends."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [LEDGER_LOCK])


def _clock(device_now: datetime | None, now: datetime) -> Clock:
    minutes = YardSettings.objects.filter(pk=1).values_list("clock_tolerance_minutes", flat=True).first()
    return Clock.of(device_now, now, timedelta(minutes=5 if minutes is None else minutes))


def _sort_out(reports: Sequence[Report | Unreadable], work: Work) -> None:
    """Which reports are new, which were had before, which contradict one that was; and what the new ones mean."""
    first = {} if work.settles else _first_submissions(reports)
    here: dict[UUID, tuple[str, int]] = {}
    for at, report in enumerate(reports):
        mark = digest(report.as_raw())
        had = first.get(report.id, {})
        if (was := had.get(mark)) is not None and not _asks_again(was, report, work):
            work.answers[at] = again(was)
        elif report.id in here and here[report.id][0] == mark:
            work.answers[at] = replace(work.answers[here[report.id][1]], answer=Submission.Answer.ALREADY_HAD)
        elif isinstance(report, Unreadable):
            work.fresh[at], work.answers[at] = mark, unreadable(report)
        elif report.id in here or _stands(had):
            work.fresh[at], work.answers[at] = mark, kept(report.id, "conflict")
        else:
            here[report.id] = (mark, at)
            work.fresh[at] = mark
            work.answers[at] = _new(report, at, work)


def _stands(had: dict[str, Submission]) -> bool:
    """Whether something was taken under that id. What was refused may come again, put right."""
    return any(row.answer != Submission.Answer.REFUSED for row in had.values())


def _asks_again(was: Submission, report: Report | Unreadable, work: Work) -> bool:
    """What was refused may be asked again, with a manager's reason."""
    return was.answer == Submission.Answer.REFUSED and isinstance(report, Report) and bool(_override(report, work))


def _override(report: Report, work: Work) -> str:
    return report.override or work.override


def _first_submissions(reports: Sequence[Report | Unreadable]) -> dict[UUID, dict[str, Submission]]:
    found: dict[UUID, dict[str, Submission]] = {}
    ids = [report.id for report in reports]
    for start in range(0, len(ids), 5000):
        rows = Submission.objects.filter(event_id__in=ids[start : start + 5000]).order_by("id")
        for row in rows.defer("raw"):
            # the last word on the same contents: a refusal may since have been overridden
            found.setdefault(row.event_id, {})[row.digest] = row
    return found


def _new(report: Report, at: int, work: Work) -> Answer:
    happened, future = work.clock.happened(report.happened_at)
    try:
        event = resolve(report, work.known, happened)
    except Problem as problem:
        return _problem(report, problem, work)
    override = _override(report, work)
    if _manner(report, work) == Manner.ASK and not override and _unfit(event, work.known):
        return refused(report.id, "unfit-refused", event.piece)
    data = {**event.data, "override": override} if override and event.kind in MAY_BE_REFUSED else event.data
    # the desk has no counter of its own: the order within one call is the order it happened in
    seq = event.seq or (0 if work.device else at)
    work.events.append(replace(event, device=work.device, seq=seq, data=data))
    work.reports[event.id] = report
    if future:
        work.flags.setdefault(event.id, []).append("future-time")
    if report.untagged and event.piece is None:
        work.flags.setdefault(event.id, []).append("untagged")
    return recorded(event.id, (), event.piece)


def _manner(report: Report, work: Work) -> Manner:
    return report.manner or work.manner


def _problem(report: Report, problem: Problem, work: Work) -> Answer:
    if problem.unmatched and _manner(report, work) == Manner.TELL:
        return kept(report.id, problem.code)
    return refused(report.id, problem.code)


def _unfit(event: Event, known: Known) -> bool:
    """Whether the event would send or set gear that is marked unfit."""
    if event.kind not in MAY_BE_REFUSED:
        return False
    if event.group is None:
        return known.is_unfit(event.piece)
    names = {GroupKind.POUR: "pour", GroupKind.DOCKET: "docket", GroupKind.CRATE: "crate"}
    there = Piece.objects.held().filter(fitness=Fitness.UNFIT, **{names[event.group.kind]: event.group.id})
    return there.exists()


def _batch(work: Work, by: Person | None, device: Device | None, device_now: datetime | None, version: int) -> Batch:
    return Batch.objects.create(
        device=device,
        person=by,
        version=version,
        device_now=device_now,
        received_at=work.clock.now,
        clock_off_ms=round(work.clock.off / timedelta(milliseconds=1)),
    )


def _store(reports: Sequence[Report | Unreadable], work: Work, by: Person | None, batch: Batch) -> None:
    now, who = work.clock.now, by.pk if by is not None else None
    rows = (_row(event, work.reports[event.id], batch, who, now) for event in work.events)
    EventRow.objects.bulk_create(rows, batch_size=1000)
    codes = project(work.events, work.known.places, now)
    for found in (count(work.events, work.known.places, now), work.flags):
        for pk, more in found.items():
            codes.setdefault(pk, []).extend(more)
    _answer(work, codes)
    submissions = Submission.objects.bulk_create(
        [_submission(reports[at], mark, work.answers[at], batch) for at, mark in work.fresh.items()], batch_size=1000
    )
    _raise(submissions, work, now)


def _row(event: Event, report: Report, batch: Batch, by: int | None, now: datetime) -> EventRow:
    return EventRow(
        id=event.id,
        kind=event.kind.value,
        version=event.version,
        happened_at=event.happened,
        said_at=report.happened_at,
        recorded_at=now,
        device=event.device,
        seq=event.seq,
        person_id=report.by or by,
        batch=batch,
        piece_id=event.piece,
        group_kind=event.group.kind.value if event.group else "",
        group_id=event.group.id if event.group else None,
        type_id=event.type,
        place_id=event.place,
        docket_id=event.docket,
        seen=event.seen.value,
        quantity=event.quantity,
        target=event.target,
        data=dict(event.data),
    )


def _answer(work: Work, codes: dict[UUID, list[str]]) -> None:
    """What the fold found about an event is part of its first answer."""
    stored = {event.id for event in work.events}
    for at in work.fresh:
        answer = work.answers[at]
        if answer.id in stored and answer.code == "" and codes.get(answer.id):
            work.answers[at] = recorded(answer.id, codes[answer.id], answer.piece)


def _submission(report: Report | Unreadable, mark: str, answer: Answer, batch: Batch) -> Submission:
    return Submission(
        batch=batch,
        event_id=report.id,
        digest=mark,
        raw=report.as_raw(),
        said=_as_said(report),
        answer=answer.answer,
        code=answer.code,
        sentence=answer.sentence,
    )


def _as_said(report: Report | Unreadable) -> dict[str, Any]:
    return report.as_said() if isinstance(report, Report) and report.raw is not None else {}


def _raise(submissions: Iterable[Submission], work: Work, now: datetime) -> None:
    """Cards for what the fold cannot know: unmatched and conflicting reports, untagged pieces, wrong clocks."""
    submissions, items = list(submissions), []
    pieces = {event.id: event.piece for event in work.events}
    for row in submissions:
        item = ReviewItem(submission=row, opened_at=now)
        if row.answer == Submission.Answer.IN_REVIEW and (row.event_id not in pieces or row.code == "conflict"):
            items.append(_card(item, row.code))
        elif row.event_id in work.flags:
            for code in work.flags[row.event_id]:
                card = _card(ReviewItem(submission=row, opened_at=now), code)
                card.event_id, card.piece_id = row.event_id, pieces[row.event_id]
                items.append(card)
    if work.clock.is_off and submissions and not work.settles and not _clock_is_known_to_be_off(submissions[0]):
        items.append(_card(ReviewItem(submission=submissions[0], opened_at=now), "clock-off"))
    ReviewItem.objects.bulk_create(items)


def _clock_is_known_to_be_off(row: Submission) -> bool:
    """One card for one device is enough until somebody has settled it."""
    open_ones = ReviewItem.objects.open().filter(code="clock-off")
    return open_ones.filter(submission__batch__device=row.batch.device).exists()


def _card(item: ReviewItem, code: str) -> ReviewItem:
    item.code, item.loud = code, is_loud(code)
    return item
