"""The rows of the ledger as they are stored: batches, events, submissions, and cards for what the fold cannot know.

Only services.recording calls this. Rows go in by plain SQL: see services.storing.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple
from uuid import UUID

from inventory.lifecycle.events import Event
from inventory.lifecycle.sentences import is_loud
from inventory.models import Batch, Device, ReviewItem, Submission
from inventory.models import Event as EventRow
from inventory.selectors.messages import Questions
from inventory.selectors.rows import as_json, moment_in, uuid_in, uuid_out
from inventory.services.answering import Answer
from inventory.services.reports import Report, Unreadable
from inventory.services.storing import store, store_one

BATCH = ("device_id", "person_id", "version", "device_now", "received_at", "clock_off_ms")
EVENT = (
    "id",
    "kind",
    "version",
    "happened_at",
    "said_at",
    "recorded_at",
    "device",
    "seq",
    "person_id",
    "batch_id",
    "piece_id",
    "group_kind",
    "group_id",
    "type_id",
    "place_id",
    "docket_id",
    "seen",
    "quantity",
    "target",
    "data",
)
SUBMISSION = ("batch_id", "event_id", "digest", "raw", "said", "answer", "code", "sentence")


@dataclass(frozen=True, slots=True)
class Arrival:
    """How a batch came: by whom, from what device, when by its clock and by ours, in which version of the words.

    phone   the code of a phone that names itself, in place of the device: found, or made, as the batch is recorded
    sent    our time at the moment of sending, if the device has measured it
    """

    person: int | None
    device: Device | None
    device_now: datetime | None
    now: datetime
    version: int = 1
    phone: str = ""
    sent: datetime | None = None

    def keep(self, off: timedelta, pk: int | None) -> Kept:
        """Stored, under the number that was asked for ahead, if one was."""
        moment, off_ms = moment_in(), round(off / timedelta(milliseconds=1))
        device = self.device.pk if self.device is not None else None
        row = (device, self.person, self.version, moment(self.device_now), moment(self.now), off_ms)
        return Kept(store_one(Batch, BATCH, row, pk), self)


class Kept(NamedTuple):
    """A batch as it is stored."""

    pk: int
    arrival: Arrival


class Had(NamedTuple):
    """What the same contents under the same id were answered before."""

    answer: str
    code: str
    sentence: str


FirstAnswers = dict[UUID, dict[str, Had]]


def first_answers(ids: Collection[UUID], questions: Questions) -> Callable[[], FirstAnswers]:
    """By id and digest; the last word on the same contents, since a refusal may have been overridden."""
    into, out = uuid_in(), uuid_out()
    sql = (
        f'SELECT "event_id", "digest", "answer", "code", "sentence" FROM "{Submission._meta.db_table}" '
        'WHERE "event_id" IN ({}) ORDER BY "id"'
    )
    asked = questions.rows_of_all(sql, [into(pk) for pk in ids])

    def read() -> FirstAnswers:
        found: FirstAnswers = {}
        for pk, mark, answer, code, sentence in asked():
            found.setdefault(out(pk), {})[mark] = Had(answer, code, sentence)
        return found

    return read


def keep_events(events: Sequence[tuple[Event, Report]], batch: Kept) -> None:
    moment, uuid, arrival = moment_in(), uuid_in(), batch.arrival
    recorded = moment(arrival.now)
    rows = [
        (
            uuid(e.id),
            e.kind.value,
            e.version,
            moment(e.happened),
            moment(report.happened_at),
            recorded,
            e.device,
            e.seq,
            report.by or arrival.person,
            batch.pk,
            e.piece,
            e.group.kind.value if e.group else "",
            e.group.id if e.group else None,
            e.type,
            e.place,
            e.docket,
            e.seen.value,
            e.quantity,
            uuid(e.target),
            as_json(dict(e.data)) if e.data else "{}",
        )
        for e, report in events
    ]
    store(EventRow, EVENT, rows)


Fresh = tuple[Report | Unreadable, str, str, Answer]
"""A report, its canonical JSON, its digest and its first answer."""


def keep_submissions(
    fresh: Sequence[Fresh],
    batch: Kept,
    pieces: Mapping[UUID, int | None],
    flags: Mapping[UUID, list[str]],
    clock_is_off: bool,
) -> None:
    """Every new report with its answer; and cards for those that a person must look at.

    pieces   by id of the event stored, the piece it is about
    """
    clock_card = clock_is_off and not _clock_is_in_review(batch.arrival.device)
    plain, carded = list[Fresh](), list[tuple[Fresh, list[str]]]()
    for each in fresh:
        answer = each[3]
        waits = answer.answer == Submission.Answer.IN_REVIEW and (answer.id not in pieces or answer.code == "conflict")
        if waits or answer.id in flags or (clock_card and not carded):
            carded.append((each, [answer.code] if waits else flags.get(answer.id, [])))
        else:
            plain.append(each)
    uuid = uuid_in()
    store(Submission, SUBMISSION, [_row(each, batch.pk, uuid) for each in plain])
    if carded:
        _keep_with_cards(carded, batch, pieces, clock_card)


def _row(each: Fresh, batch: int, uuid: Callable[[UUID], object]) -> tuple[object, ...]:
    report, text, mark, answer = each
    return batch, uuid(report.id), mark, text, "{}", answer.answer.value, answer.code, answer.sentence


def _keep_with_cards(
    carded: Sequence[tuple[Fresh, list[str]]], batch: Kept, pieces: Mapping[UUID, int | None], clock_card: bool
) -> None:
    rows = Submission.objects.bulk_create(
        Submission(
            batch_id=batch.pk,
            event_id=report.id,
            digest=mark,
            raw=report.as_raw(),
            said=report.as_said() if isinstance(report, Report) and report.raw is not None else {},
            answer=answer.answer,
            code=answer.code,
            sentence=answer.sentence,
        )
        for (report, _, mark, answer), _ in carded
    )
    items = []
    for row, (_, codes) in zip(rows, carded, strict=True):
        about = row.event_id if row.event_id in pieces and row.code != "conflict" else None
        for code in codes:
            card = ReviewItem(submission=row, code=code, loud=is_loud(code), opened_at=batch.arrival.now)
            if about is not None:
                card.event_id, card.piece_id = about, pieces[about]
            items.append(card)
    if clock_card:
        items.append(ReviewItem(submission=rows[0], code="clock-off", opened_at=batch.arrival.now))
    ReviewItem.objects.bulk_create(items)


def _clock_is_in_review(device: Device | None) -> bool:
    """One card for one device is enough until somebody has settled it."""
    return ReviewItem.objects.open().filter(code="clock-off", submission__batch__device=device).exists()
