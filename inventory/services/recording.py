"""The ledger's only writer: reports come in, events are stored, states follow, each report is answered.

All of a batch is stored or none of it. One batch is written at a time: SQLite takes its write lock at BEGIN, and on
PostgreSQL an advisory lock does the same, since a press on a group and a piece joining that group must see each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import NamedTuple
from uuid import UUID

from django.db import connection, transaction
from django.utils import timezone

from inventory.lifecycle.events import Event
from inventory.lifecycle.kinds import Fitness, GroupKind, Kind
from inventory.models import Batch, Device, Person, Piece, Submission, YardSettings
from inventory.models.gear import NEVER_SET
from inventory.selectors.messages import Questions, tell, together
from inventory.services.answering import Answer, Manner, again, kept, recorded, refused, unreadable
from inventory.services.clocks import Clock
from inventory.services.counting import count
from inventory.services.devices import device_called
from inventory.services.keeping import (
    Arrival,
    FirstAnswers,
    Had,
    first_answers,
    keep_events,
    keep_submissions,
)
from inventory.services.projecting import project
from inventory.services.reports import Report, Unreadable
from inventory.services.resolving import Known, Problem, known_for, resolve
from inventory.services.storing import next_id

__all__ = ["Answer", "Manner", "Recorded", "record", "record_batch"]

LEDGER_LOCK = 7_241_901
"""Any number, the same for every process: PostgreSQL's advisory lock on writing the ledger."""
MAY_BE_REFUSED = frozenset({Kind.SENT, Kind.SET})
MOVES = frozenset({Kind.SENT, Kind.RECEIVED, Kind.RETURNED})


@dataclass(frozen=True, slots=True)
class Recorded:
    """The answers, in the order of the reports, and what was made of the device's clock."""

    answers: list[Answer]
    clock: Clock


class Manners(NamedTuple):
    """As `record` takes them."""

    manner: Manner
    override: str
    settles: bool


@dataclass
class Work:
    """One call of `record`: what came, what is new, what each report is answered.

    had     what was answered before under the ids that came
    number  the id the batch will be stored under, where it is known ahead
    fresh   by position, the canonical JSON of each report that is to be kept, and its digest
    flags   what only the way in can know about an event: a time in the future, no readable tag, a docket long closed
    """

    known: Known
    clock: Clock
    manners: Manners
    device: str
    had: FirstAnswers
    number: int | None
    reports: dict[UUID, Report] = field(default_factory=dict)
    events: list[Event] = field(default_factory=list)
    answers: dict[int, Answer] = field(default_factory=dict)
    fresh: dict[int, tuple[str, str]] = field(default_factory=dict)
    flags: dict[UUID, list[str]] = field(default_factory=dict)


def record(
    reports: Sequence[Report | Unreadable],
    *,
    by: Person | None,
    device: Device | None = None,
    manner: Manner = Manner.TELL,
    override: str = "",
    device_now: datetime | None = None,
    now: datetime | None = None,
    settles: bool = False,
) -> list[Answer]:
    """Record what is reported and answer each report, in the same order.

    by, device   who, and with what; no device is the desk
    manner       ASK before it happens (unfit gear is refused), TELL when it has happened (never refused)
    override     a manager's reason for sending or setting unfit gear all the same; it stays with the event
    device_now   the device's clock as it sent; times are corrected by how far it is off
    now          the time of receipt
    settles      the reports are what a person made of some that were kept for review: their ids have been had before
    """
    arrival = Arrival(by.pk if by is not None else None, device, device_now, now or timezone.now())
    return record_batch(reports, arrival, manner=manner, override=override, settles=settles).answers


def record_batch(
    reports: Sequence[Report | Unreadable],
    arrival: Arrival,
    *,
    manner: Manner = Manner.TELL,
    override: str = "",
    settles: bool = False,
) -> Recorded:
    """As `record`, with the clock beside the answers."""
    reports = list(reports)
    if not reports and not arrival.phone:
        return Recorded([], Clock.of(arrival.device_now, arrival.now, _tolerance, sent=arrival.sent))
    with transaction.atomic(), together():
        one_writer_at_a_time()
        work, arrival = _read(reports, arrival, Manners(manner, override.strip(), settles))
        _sort_out(reports, work)
        if work.fresh:
            _store(reports, work, arrival)
            _remember(work.clock, arrival, settles)
    return Recorded([work.answers[at] for at in range(len(reports))], work.clock)


def _read(reports: Sequence[Report | Unreadable], arrival: Arrival, manners: Manners) -> tuple[Work, Arrival]:
    """All that must be known before the first report is looked at, in one message to the database."""
    questions = Questions()
    known = known_for([report for report in reports if isinstance(report, Report)], questions)
    first = first_answers([] if manners.settles else [report.id for report in reports], questions)
    called = device_called(arrival.phone, questions) if arrival.phone else lambda: arrival.device
    number = next_id(Batch, questions)
    questions.ask()
    arrival = replace(arrival, device=called())
    device = arrival.device
    before = device.clock_off_s if device is not None and not manners.settles else None
    clock = Clock.of(arrival.device_now, arrival.now, _tolerance, before, arrival.sent)
    return Work(known(), clock, manners, device.code if device else "", first(), number()), arrival


def _remember(clock: Clock, arrival: Arrival, settles: bool) -> None:
    """What this device's times are corrected by from now on."""
    seconds = round(clock.correction.total_seconds())
    if arrival.device is not None and arrival.device_now is not None and not settles and seconds != clock.before:
        Device.objects.filter(pk=arrival.device.pk).update(clock_off_s=seconds)


def one_writer_at_a_time() -> None:
    """Inside a transaction: nobody else writes the ledger until it ends."""
    if connection.vendor == "postgresql":
        tell("SELECT pg_advisory_xact_lock(%s)", [LEDGER_LOCK])


def _tolerance() -> timedelta:
    minutes = YardSettings.objects.filter(pk=1).values_list("clock_tolerance_minutes", flat=True).first()
    return timedelta(minutes=5 if minutes is None else minutes)


def _sort_out(reports: Sequence[Report | Unreadable], work: Work) -> None:
    """Which reports are new, which were had before, which contradict one that was; and what the new ones mean."""
    here: dict[UUID, tuple[str, int]] = {}
    for at, report in enumerate(reports):
        text, mark = report.canonical()
        had = work.had.get(report.id, {})
        if (was := had.get(mark)) is not None and not _asks_again(was, report, work):
            work.answers[at] = again(report.id, was.answer, was.code, was.sentence)
        elif report.id in here and here[report.id][0] == mark:
            first_one = work.answers[here[report.id][1]]
            work.answers[at] = again(report.id, first_one.answer, first_one.code, first_one.sentence)
        elif isinstance(report, Unreadable):
            here.setdefault(report.id, (mark, at))
            work.fresh[at], work.answers[at] = (text, mark), unreadable(report)
        elif _taken_here(report.id, here, work) or _stands(had):
            work.fresh[at], work.answers[at] = (text, mark), kept(report.id, "conflict")
        else:
            here[report.id] = (mark, at)
            work.fresh[at] = (text, mark)
            work.answers[at] = _new(report, at, work)


def _taken_here(pk: UUID, here: dict[UUID, tuple[str, int]], work: Work) -> bool:
    return pk in here and work.answers[here[pk][1]].answer != Submission.Answer.REFUSED


def _stands(had: dict[str, Had]) -> bool:
    """Whether something was taken under that id. What was refused may come again, put right."""
    return any(was.answer != Submission.Answer.REFUSED for was in had.values())


def _asks_again(was: Had, report: Report | Unreadable, work: Work) -> bool:
    """What was refused may be asked again, with a manager's reason."""
    return was.answer == Submission.Answer.REFUSED and isinstance(report, Report) and bool(_override(report, work))


def _override(report: Report, work: Work) -> str:
    return report.override or work.manners.override


def _manner(report: Report, work: Work) -> Manner:
    return report.manner or work.manners.manner


def _new(report: Report, at: int, work: Work) -> Answer:
    happened, future = work.clock.happened(report.happened_at)
    try:
        # the desk has no counter of its own: the order within one call is the order it happened in
        event = resolve(report, work.known, happened, work.device, report.seq or (0 if work.device else at))
    except Problem as problem:
        return _problem(report, problem, work)
    override = _override(report, work)
    if event.kind == Kind.SENT and _homeward(event, work.known):
        event = replace(event, data={**event.data, "homeward": True})
    if _manner(report, work) == Manner.ASK and (why := _refusal(event, override, work.known)):
        return refused(report.id, why, event.piece)
    if override and event.kind in MAY_BE_REFUSED:
        event = replace(event, data={**event.data, "override": override})
    work.events.append(event)
    work.reports[event.id] = report
    if flags := _flags(report, event, future, work):
        work.flags[event.id] = flags
    return recorded(event.id, (), event.piece)


def _flags(report: Report, event: Event, future: bool, work: Work) -> list[str]:
    flags = []
    if future:
        flags.append("future-time")
    if report.untagged and event.piece is None:
        flags.append("untagged")
    ends = work.known.dockets.get(event.docket) if event.docket is not None else None
    if work.device and ends is not None and ends.over and event.kind in MOVES:
        flags.append("docket-over")
    if work.known.stocktakes.get(event.data.get("stocktake", 0)):
        flags.append("stocktake-over")
    return flags


def _problem(report: Report, problem: Problem, work: Work) -> Answer:
    if problem.unmatched and _manner(report, work) == Manner.TELL:
        return kept(report.id, problem.code)
    return refused(report.id, problem.code)


def _refusal(event: Event, override: str, known: Known) -> str:
    """Why what is asked is refused; empty when it is not."""
    if not override and _unfit(event, known):
        return "unfit-refused"
    if event.kind == Kind.SENT and event.docket is not None:
        ends = known.dockets[event.docket]
        return "not-loading" if ends.left or ends.over else ""
    return ""


def _unfit(event: Event, known: Known) -> bool:
    """Whether the event would send or set gear that is marked unfit. Back to a yard it may go: to be mended there."""
    if event.kind not in MAY_BE_REFUSED or event.data.get("homeward"):
        return False
    if event.group is None:
        return known.is_unfit(event.piece)
    names = {GroupKind.POUR: "pour", GroupKind.DOCKET: "docket", GroupKind.CRATE: "crate"}
    there = Piece.objects.held().filter(fitness=Fitness.UNFIT, **{names[event.group.kind]: event.group.id})
    if event.kind == Kind.SET and event.group.kind == GroupKind.DOCKET:
        there = there.filter(pour=None).exclude(type__kind__in=NEVER_SET)
    return there.exists()


def _homeward(event: Event, known: Known) -> bool:
    """Loaded for a yard."""
    ends = known.dockets.get(event.docket) if event.docket is not None else None
    return ends is not None and not known.places.is_site(ends.end)


def _store(reports: Sequence[Report | Unreadable], work: Work, arrival: Arrival) -> None:
    batch = arrival.keep(work.clock.off, work.number)
    keep_events([(event, work.reports[event.id]) for event in work.events], batch)
    codes = project(work.events, work.known.places, arrival.now, work.known.pieces)
    for found in (count(work.events, work.known.places, arrival.now), work.flags):
        for pk, more in found.items():
            codes.setdefault(pk, []).extend(more)
    _answer(work, codes)
    fresh = [(reports[at], *kept_as, work.answers[at]) for at, kept_as in work.fresh.items()]
    clock_is_off = work.clock.is_off and not work.manners.settles
    keep_submissions(fresh, batch, {event.id: event.piece for event in work.events}, work.flags, clock_is_off)


def _answer(work: Work, codes: dict[UUID, list[str]]) -> None:
    """What the fold found about an event is part of its first answer."""
    if not codes:
        return
    for at in work.fresh:
        answer = work.answers[at]
        if answer.id in work.reports and answer.code == "" and codes.get(answer.id):
            work.answers[at] = recorded(answer.id, codes[answer.id], answer.piece)
