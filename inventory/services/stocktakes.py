"""A stocktake is opened, scanned by as many phones as there are, and closed by the manager who confirms it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from inventory.errors import Refused
from inventory.lifecycle.kinds import Fitness, Kind, PlaceKind, Seen
from inventory.models import Event, Missing, Person, Piece, Place, Stocktake, StocktakeMark, Submission
from inventory.selectors.stocktakes import Compared, Sighting, compare
from inventory.services.missing import miss
from inventory.services.recording import one_writer_at_a_time, record
from inventory.services.reports import Report


@transaction.atomic
def open_stocktake(place: Place, *, by: Person | None, now: datetime) -> Stocktake:
    """Refused: stocktake-place, stocktake-open."""
    if place.kind not in (PlaceKind.YARD, PlaceKind.SITE):
        raise Refused("stocktake-place", "A stocktake is of a whole yard or site; its parts are counted with it.")
    if Stocktake.objects.open().filter(place=place).exists():
        raise Refused("stocktake-open", f"A stocktake of {place} is open already. Scan into that one, or close it.")
    return Stocktake.objects.create(place=place, opened_at=now, opened_by=by)


@transaction.atomic
def mark(stocktake: Stocktake, *, shown: Collection[int], lost: Collection[int]) -> None:
    """Of the pieces shown, those to be written off when it is closed; what was marked before and not shown stays."""
    marks = StocktakeMark.objects.filter(stocktake=stocktake)
    marks.filter(piece__in=shown).delete()
    wanted = Piece.objects.filter(pk__in=set(lost) & set(shown))
    StocktakeMark.objects.bulk_create(StocktakeMark(stocktake=stocktake, piece=piece) for piece in wanted)


def forget_marks_of_what_turned_up(stocktake: Stocktake) -> None:
    marked = set(stocktake.marks.values_list("piece", flat=True))
    StocktakeMark.objects.filter(
        stocktake=stocktake, piece__in=marked - {piece.pk for piece in compare(stocktake).missing}
    ).delete()


@transaction.atomic
def close_stocktake(
    stocktake: Stocktake, *, lost: Collection[int], by: Person | None, now: datetime, charge: bool = False
) -> Compared:
    """Write what was found out: counts of what was seen, losses of those named, and the rest is asked after.

    lost     ids of missing pieces that the manager writes off; every other missing piece gets an open case
    charge   whether the job that has a lost piece is charged for it, at what its terms say
    Refused: stocktake-closed; stocktake-changed when one of them has been seen, or has moved, since it was shown.
    """
    one_writer_at_a_time()
    stocktake = Stocktake.objects.select_for_update().select_related("place").get(pk=stocktake.pk)
    if stocktake.closed_at is not None:
        raise Refused("stocktake-closed", "This stocktake is closed already.")
    compared = compare(stocktake)
    gone = [piece for piece in compared.missing if piece.pk in set(lost)]
    if len(gone) != len(set(lost)):
        raise Refused("stocktake-changed", "A piece to be written off has been seen or moved since. Look again.")
    _write(_reports(stocktake, compared, gone, charge, now), by, now)
    _follow_up(stocktake, compared, {piece.pk for piece in gone}, by, now)
    stocktake.closed_at, stocktake.closed_by = now, by
    stocktake.found, stocktake.missing = len(compared.found), len(compared.missing)
    stocktake.written_off = len(gone)
    stocktake.out_of_place = len(compared.out_of_place) + len(compared.was_lost)
    stocktake.save()
    stocktake.marks.all().delete()
    return compared


def _reports(
    stocktake: Stocktake, compared: Compared, gone: Sequence[Piece], charge: bool, now: datetime
) -> list[Report]:
    said = {"closes": stocktake.pk}
    counted = [_seen(Kind.COUNTED, each, said, now) for each in (*compared.found, *compared.out_of_place)]
    back = [_seen(Kind.FOUND, each, said, now) for each in compared.was_lost]
    off = [_lost(piece, stocktake, said, charge, now) for piece in gone]
    goods = [goods_counted(stocktake.pk, each.counts) for each in compared.goods if each.counts]
    return counted + back + off + goods


def _seen(kind: Kind, sighting: Sighting, said: dict[str, Any], now: datetime) -> Report:
    """Where it was seen; `saw` names the sighting that this rests on."""
    data = {**said, "saw": str(sighting.event.pk)}
    return Report(kind, now, piece=sighting.piece.pk, place=sighting.event.place_id, seen=Seen.TYPED, data=data)


def goods_counted(stocktake: int, counts: Sequence[Event]) -> Report:
    """What counts of one type at one place come to, as of the last of them: what moved since then still counts."""
    last = counts[-1]
    return Report(
        Kind.COUNTED,
        last.happened_at,
        type=last.type_id,
        place=last.place_id,
        quantity=sum(event.quantity or 0 for event in counts),
        seen=Seen.TYPED,
        data={"closes": stocktake, "condition": last.data.get("condition", Fitness.SOUND.value)},
    )


def _lost(piece: Piece, stocktake: Stocktake, said: dict[str, Any], charge: bool, now: datetime) -> Report:
    data = {**said, "charge": charge, "reason": "not seen in a stocktake"}
    if not charge:
        data["value"] = str(piece.type.replacement_value)
    return Report(Kind.LOST, now, piece=piece.pk, place=stocktake.place_id, seen=Seen.TYPED, data=data)


def _write(reports: list[Report], by: Person | None, now: datetime) -> None:
    for answer in record(reports, by=by, now=now):
        if answer.answer == Submission.Answer.REFUSED:
            raise Refused(answer.code, answer.sentence)


def _follow_up(stocktake: Stocktake, compared: Compared, gone: set[int], by: Person | None, now: datetime) -> None:
    """Cases of what turned up are closed, and of what was written off; each other missing piece is asked after."""
    turned_up = [each.piece.pk for each in (*compared.found, *compared.out_of_place, *compared.was_lost)]
    cases = Missing.objects.open()
    for start in range(0, len(turned_up), 5000):
        some = turned_up[start : start + 5000]
        cases.filter(piece__in=some).update(closed_at=now, outcome=Missing.Outcome.FOUND)
    cases.filter(piece__in=gone).update(closed_at=now, outcome=Missing.Outcome.WRITTEN_OFF)
    left = [piece for piece in compared.missing if piece.pk not in gone]
    miss(left, missed=Missing.Missed.STOCKTAKE, place=stocktake.place, by=by, now=now)
