"""What the one who reports is told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from inventory.lifecycle.sentences import is_loud, sentence
from inventory.models import Submission
from inventory.services.reports import Manner, Unreadable

__all__ = ["Answer", "Manner", "again", "kept", "recorded", "refused", "unreadable"]

RECORDED = "Recorded."


@dataclass(frozen=True, slots=True)
class Answer:
    """The first answer to a report is kept; the same report again gets it again, marked as already had.

    had   for a report already had: the answer it got the first time
    """

    id: UUID
    answer: Submission.Answer
    code: str = ""
    sentence: str = RECORDED
    piece: int | None = None
    had: str = ""

    @property
    def first(self) -> str:
        return self.had or self.answer

    @property
    def loud(self) -> bool:
        return is_loud(self.code)


def recorded(pk: UUID, codes: Sequence[str], piece: int | None) -> Answer:
    """Stored; with the gravest contradiction, if there is one, first."""
    if not codes:
        return Answer(pk, Submission.Answer.RECORDED, piece=piece)
    code = next(iter(sorted(codes, key=lambda c: not is_loud(c))))
    return Answer(pk, Submission.Answer.IN_REVIEW, code, sentence(code), piece)


def kept(pk: UUID, code: str, piece: int | None = None) -> Answer:
    return Answer(pk, Submission.Answer.IN_REVIEW, code, sentence(code), piece)


def refused(pk: UUID, code: str, piece: int | None = None) -> Answer:
    return Answer(pk, Submission.Answer.REFUSED, code, sentence(code), piece)


def unreadable(report: Unreadable) -> Answer:
    answer = Submission.Answer.IN_REVIEW if report.happened else Submission.Answer.REFUSED
    return Answer(report.id, answer, report.code, report.sentence)


def again(pk: UUID, first: str, code: str, said: str) -> Answer:
    return Answer(pk, Submission.Answer.ALREADY_HAD, code, said, had=first)
