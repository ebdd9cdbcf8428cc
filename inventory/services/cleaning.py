"""Many pieces cleaned at once: scanned one after another, or marked in the list."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from inventory.lifecycle.kinds import Kind, Seen
from inventory.models import Person, Place, Submission
from inventory.services.answering import Answer
from inventory.services.recording import record
from inventory.services.reports import Report


@dataclass(frozen=True, slots=True)
class Doubt:
    """What was said of a tag that needs somebody; the code is empty of a piece marked in the list."""

    tag: str
    answer: Answer


def clean_all(
    *,
    pieces: Iterable[int] = (),
    codes: Iterable[str] = (),
    by: Person | None,
    now: datetime,
    place: Place | None = None,
) -> tuple[int, list[Doubt]]:
    """How many are clean now, and what needs somebody: codes that are on no piece, pieces seen elsewhere.

    `place` is where they were cleaned; without it, wherever the record has each.
    """
    where = place.pk if place else None
    reports = [Report(Kind.CLEANED, now, piece=pk, place=where, seen=Seen.TYPED) for pk in pieces]
    reports += [Report(Kind.CLEANED, now, tag=code, place=where, seen=Seen.SCANNED) for code in codes]
    answers = record(reports, by=by, now=now)
    taken = (Submission.Answer.RECORDED, Submission.Answer.IN_REVIEW)
    done = sum(answer.answer in taken and answer.piece is not None for answer in answers)
    tags = {report.id: report.tag for report in reports}
    return done, [Doubt(tags[answer.id], answer) for answer in answers if answer.code]
