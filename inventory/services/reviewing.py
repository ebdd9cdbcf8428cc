"""Settling what is in review: each way writes events. Where the record stays as it is, the event says that, and why."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid5

from django.db import transaction
from django.utils import timezone

from inventory.errors import Refused
from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import Fitness, GroupKind, Kind, Seen, Standing
from inventory.models import Event, Person, Piece, Place, ReviewItem, Submission
from inventory.selectors.reviews import Card, card_of
from inventory.selectors.stocktakes import goods_counts
from inventory.services.recording import Answer, record
from inventory.services.reports import Report, understood
from inventory.services.stocktakes import goods_counted


@dataclass(frozen=True, slots=True)
class Way:
    """One honest way to settle a card: what the button says, and what must be given with it.

    needs   any of "reason", "piece", "when", "grade"
    """

    code: str
    label: str
    needs: tuple[str, ...] = ("reason",)


STANDS = Way("stands", "What was reported stands")
NOTED = Way("noted", "Noted, nothing to change")
REVERSE = Way("reverse", "Take the report back")
IT_WAS = Way("it-was", "It was this piece", ("piece",))
BIND = Way("bind", "It was this piece", ("piece",))
MOVED = Way("moved", "It moved there on", ("when",))
WAS_CAST = Way("was-cast", "It was cast on", ("when",))
WAS_CALLED_OFF = Way("was-called-off", "It was called off on", ("when",))
INSPECTED = Way("inspected", "It has been inspected", ("grade", "reason"))
OUT_OF_USE = Way("out-of-use", "It has been taken out of use")
SECOND_IS_RIGHT = Way("second", "The second report is right")
REDATE = Way("redate", "It happened on", ("when",))

WAS_THERE = Way("was-there", "It was there", ())

UNFIT = (OUT_OF_USE, INSPECTED, REVERSE)
MOVES = (MOVED, STANDS, REVERSE)
UNMATCHED = (IT_WAS, NOTED)
WAYS: dict[str, tuple[Way, ...]] = {
    "unfit-sent": UNFIT,
    "unfit-received": UNFIT,
    "unfit-set": UNFIT,
    "seen-elsewhere": MOVES,
    "sent-from-elsewhere": MOVES,
    "set-from-elsewhere": MOVES,
    "returned-from-other-site": MOVES,
    "strip-without-cast": (WAS_CAST, WAS_CALLED_OFF, STANDS),
    "tag-unknown": UNMATCHED,
    "tag-not-fixed": UNMATCHED,
    "piece-unknown": UNMATCHED,
    "untagged": (BIND, NOTED),
    "conflict": (NOTED, SECOND_IS_RIGHT),
    "future-time": (REDATE, STANDS, REVERSE),
    "clock-off": (NOTED,),
    "group-unknown": (NOTED,),
    "type-unknown": (NOTED,),
    "place-unknown": (NOTED,),
    "docket-unknown": (NOTED,),
    "gear-from-where": (NOTED,),
    "docket-over": (STANDS, REVERSE),
    "stocktake-unknown": (NOTED,),
    "stocktake-over": (WAS_THERE, NOTED),
}


def ways(card: Card) -> tuple[Way, ...]:
    """The ways to settle a card; whatever is not named above stands, or is taken back."""
    return WAYS.get(card.code, (STANDS, REVERSE))


@dataclass(frozen=True, slots=True)
class Settlement:
    """What the person who settles has said."""

    by: Person
    reason: str = ""
    piece: Piece | None = None
    when: datetime | None = None
    grade: str = ""
    now: datetime | None = None

    @property
    def at(self) -> datetime:
        return self.now or timezone.now()


@transaction.atomic
def settle(item: ReviewItem, way: str, said: Settlement) -> Card:
    """Settle the card that an item stands on. Refused if something is missing or the contradiction remains."""
    card = card_of(item)
    chosen = next((each for each in ways(card) if each.code == way), None)
    if chosen is None:
        raise Refused("no-such-way", "This cannot be settled in that way. Choose one of those shown.")
    for name in chosen.needs:
        if not getattr(said, name):
            raise Refused(f"{name}-missing", NEEDED[name])
    if chosen.code in DO:
        DO[chosen.code](card, said)
    else:
        _word(card, chosen, said)
    how = chosen.label if not said.reason.strip() else f"{chosen.label}: {said.reason.strip()}"
    pks = [each.pk for each in card.items]
    if chosen in (MOVED, WAS_CAST, WAS_CALLED_OFF) and ReviewItem.objects.open().filter(pk__in=pks).exists():
        raise Refused(
            "still-contradicts", "With that date the record still contradicts itself. Check the day and time."
        )
    ReviewItem.objects.filter(pk__in=pks).update(settled_at=said.at, settled_by=said.by, how=how[:200])
    return card


NEEDED = {
    "reason": "Say why, in a few words; it stays with the record.",
    "piece": "Say which piece it was.",
    "when": "Say on which day and at what time.",
    "grade": "Say what the inspection found: sound, watch or unfit.",
}


def _write(reports: Sequence[Report], said: Settlement) -> None:
    for answer in record(reports, by=said.by, now=said.at):
        if answer.answer == Submission.Answer.REFUSED:
            raise Refused(answer.code, answer.sentence)


def _word(card: Card, way: Way, said: Settlement) -> None:
    """Nothing changes about any gear: who said so, of which report, and why, is the event."""
    about = card.report
    if about is None:
        raise Refused("no-event", "Nothing was kept of what this card is about, so there is nothing to say of it.")
    data = {"settles": card.code, "word": way.label, "reason": said.reason.strip()}
    _write([Report(Kind.SETTLED, said.at, target=about, seen=Seen.TYPED, data=data)], said)


def _reverse(card: Card, said: Settlement) -> None:
    """Take the event back: for the pieces of the card only, where it was one press for many."""
    event = _event(card)
    data = {"reason": said.reason}
    subjects: list[int | None] = [piece.pk for piece in card.pieces] or [None]
    _write(
        [Report(Kind.REVERSED, said.at, piece=pk, target=event.pk, seen=Seen.TYPED, data=data) for pk in subjects],
        said,
    )


def _event(card: Card) -> Event:
    if card.event is None:
        raise Refused("no-event", "Nothing was recorded for this card, so there is nothing to change.")
    return card.event


def _it_was(card: Card, said: Settlement) -> None:
    """An unmatched report becomes the event it would have been, under its own id and in its own time."""
    row = card.submission
    if row is None or said.piece is None or Event.objects.filter(pk=row.event_id).exists():
        raise Refused("already-recorded", "This report has been recorded already.")
    report = understood(row.said or row.raw)
    data = {**report.data, **({"tag": report.tag} if report.tag else {})}
    meant = replace(report, tag="", piece=said.piece.pk, data=data)
    batch, now = row.batch, said.at
    answer = record(
        [meant],
        by=batch.person,
        device=batch.device,
        device_now=now + timedelta(milliseconds=batch.clock_off_ms),
        now=now,
        settles=True,
    )[0]
    if answer.answer == Submission.Answer.REFUSED:
        raise Refused(answer.code, answer.sentence)


def _bind(card: Card, said: Settlement) -> None:
    if said.piece is not None:
        bind_untagged(_event(card), said.piece, by=said.by, now=said.at)


@transaction.atomic
def bind_untagged(event: Event, piece: Piece, *, by: Person | None, now: datetime | None = None) -> Answer:
    """Say which piece it was that came without a readable tag: the same happening, now about the piece.

    The report by type stays as it was stored. The new event carries its id in `bound`, and one of its own made from
    it, so that it can be bound once only. Which piece it was is assumed; in a stocktake it counts as seen all the
    same, since somebody stood before it and somebody has said which it was.
    """
    if not event.data.get("untagged"):
        raise Refused("not-untagged", "That report is not of a piece without a readable tag.")
    if piece.type_id != event.type_id:
        raise Refused("other-type", f"{piece} is not of the type that was reported. Choose another piece.")
    data = {name: value for name, value in event.data.items() if name != "untagged"} | {"bound": str(event.pk)}
    report = Report(
        Kind(event.kind),
        event.happened_at,
        id=uuid5(event.pk, "bound"),
        piece=piece.pk,
        place=event.place_id,
        docket=event.docket_id,
        seen=Seen(event.seen) if event.kind == Kind.COUNTED else Seen.ASSUMED,
        data=data,
    )
    if Event.objects.filter(pk=report.id).exists():
        raise Refused("already-bound", "That report has been bound to a piece already.")
    now = now or timezone.now()
    answer = record([report], by=by, now=now)[0]
    items = ReviewItem.objects.open().filter(event=event, code="untagged")
    items.update(settled_at=now, settled_by=by, how=f"It was {piece}")
    return answer


def _moved(card: Card, said: Settlement) -> None:
    """Date the move that nobody recorded: each piece came to where it was seen, before it was seen there."""
    event, places = _event(card), Place.objects.as_world()
    to = event.data.get("from_place") if event.kind in (Kind.RETURNED, Kind.SENT) else event.place_id
    _write(
        [
            Report(
                Kind.RECEIVED,
                _when(said),
                piece=piece.pk,
                place=places.root(to),
                seen=Seen.ASSUMED,
                data={"settles": card.code},
            )
            for piece in card.pieces
        ],
        said,
    )


def _when(said: Settlement) -> datetime:
    if said.when is None:
        raise Refused("when-missing", NEEDED["when"])
    return said.when


def _pour_word(kind: Kind) -> Callable[[Card, Settlement], None]:
    """The word that was missing before a strip: for the pour if it was stripped at one press, else for the piece."""

    def write(card: Card, said: Settlement) -> None:
        event, data = _event(card), {"settles": card.code}
        if event.group_kind == GroupKind.POUR and event.group_id is not None:
            pour = Group(GroupKind.POUR, event.group_id)
            _write([Report(kind, _when(said), group=pour, seen=Seen.TYPED, data=data)], said)
        else:
            _write([Report(kind, _when(said), piece=p.pk, seen=Seen.TYPED, data=data) for p in card.pieces], said)

    return write


def _inspected(card: Card, said: Settlement) -> None:
    if said.grade not in {grade.value for grade in Fitness}:
        raise Refused("grade-missing", NEEDED["grade"])
    data = {"grade": said.grade, "reason": said.reason}
    _write([Report(Kind.INSPECTED, said.at, piece=p.pk, seen=Seen.TYPED, data=data) for p in card.pieces], said)


def _second(card: Card, said: Settlement) -> None:
    """Of two reports with one id the second is right: the first is taken back and the second recorded anew."""
    row = card.submission
    if row is None:
        raise Refused("no-event", "The second report was not kept.")
    report = replace(understood(row.said or row.raw), id=uuid5(row.event_id, row.digest))
    _write([Report(Kind.REVERSED, said.at, target=row.event_id, seen=Seen.TYPED, data={"reason": said.reason})], said)
    _write([report], said)


def _redate(card: Card, said: Settlement) -> None:
    """Take the event back and record the same at the time it really happened."""
    event = _event(card)
    again: dict[str, Any] = {
        "piece": event.piece_id,
        "group": Group(GroupKind(event.group_kind), event.group_id) if event.group_id is not None else None,
        "type": event.type_id,
        "quantity": event.quantity,
        "place": event.place_id,
        "docket": event.docket_id,
        "target": event.target,
        "data": event.data,
        "seen": Seen(event.seen),
    }
    if _when(said) > said.at:
        raise Refused("when-future", "That is in the future. Give the time at which it happened.")
    back = Report(Kind.REVERSED, said.at, target=event.pk, seen=Seen.TYPED, data={"reason": said.reason})
    _write([back, Report(Kind(event.kind), _when(said), id=uuid5(event.pk, "redated"), **again)], said)


def _was_there(card: Card, said: Settlement) -> None:
    """Seen after all: found again if it was written off, else counted where it was seen."""
    event = _event(card)
    stocktake = event.data.get("stocktake")
    if event.type_id is not None and event.place_id is not None and stocktake:
        spot = event.type_id, event.place_id, str(event.data.get("condition", Fitness.SOUND.value))
        if counts := goods_counts(stocktake).get(spot):  # the heap that came late, with those that were counted before
            _write([goods_counted(stocktake, counts)], said)
    for piece in card.pieces:
        kind = Kind.FOUND if piece.standing == Standing.LOST else Kind.COUNTED
        data = {"closes": event.data.get("stocktake"), "saw": str(event.pk)}
        _write([Report(kind, said.at, piece=piece.pk, place=event.place_id, seen=Seen.TYPED, data=data)], said)


# STANDS, NOTED and OUT_OF_USE change nothing: see _word.
DO: dict[str, Callable[[Card, Settlement], None]] = {
    "reverse": _reverse,
    "it-was": _it_was,
    "bind": _bind,
    "moved": _moved,
    "was-cast": _pour_word(Kind.CAST),
    "was-called-off": _pour_word(Kind.CALLED_OFF),
    "inspected": _inspected,
    "second": _second,
    "redate": _redate,
    "was-there": _was_there,
}
