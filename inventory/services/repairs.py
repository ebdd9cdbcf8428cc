"""Repair orders: opened, parts taken from the shelf, done, inspected; or given up."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from inventory.errors import Refused
from inventory.lifecycle.kinds import Fitness, Kind, Seen, Standing
from inventory.models import CountedStock, GearType, Person, Piece, Place, RepairOrder, RepairPart, Submission
from inventory.services.recording import record
from inventory.services.reports import Report


@transaction.atomic
def open_repair(
    piece: Piece,
    *,
    what: str,
    by: Person | None,
    now: datetime,
    place: Place | None = None,
    ready_on: date | None = None,
    estimate: Decimal | None = None,
) -> RepairOrder:
    """One open order a piece. Where a place of the same yard is named, that is where the piece now is."""
    if piece.standing != Standing.HELD:
        raise Refused("not-held", f"This piece is {piece.standing}: there is nothing to mend.")
    if RepairOrder.objects.open().filter(piece=piece).exists():
        raise Refused("in-repair", "There is an open repair order for this piece already.")
    order = RepairOrder(
        piece=piece, what=what, place=place, opened_at=now, opened_by=by, ready_on=ready_on, estimate=estimate
    )
    order.full_clean()
    order.save()
    if place is not None and _same_yard(piece.place, place):
        _tell(
            Report(Kind.COUNTED, now, piece=piece.pk, place=place.pk, seen=Seen.TYPED, data={"repair": order.pk}),
            by,
            now,
        )
    return order


def _same_yard(here: Place | None, there: Place) -> bool:
    return here is not None and here.pk != there.pk and (here.parent_id or here.pk) == (there.parent_id or there.pk)


def _tell(report: Report, by: Person | None, now: datetime) -> None:
    (answer,) = record([report], by=by, now=now)
    if answer.answer == Submission.Answer.REFUSED:
        raise Refused(answer.code, answer.sentence)


@transaction.atomic
def use_parts(
    order: RepairOrder, type_: GearType, place: Place, quantity: int, *, by: Person | None, now: datetime
) -> RepairPart:
    """Counted goods for the repair: off the shelf where they lie, at what they cost to replace."""
    _is_open(order)
    there = CountedStock.objects.filter(type=type_, place=place, condition=Fitness.SOUND).first()
    if quantity < 1 or there is None or there.quantity < quantity:
        has = there.quantity if there is not None else 0
        raise Refused("not-on-the-shelf", f"{place} has {has:,} x {type_.name}. Count them anew, or take fewer.")
    report = Report(
        Kind.RETIRED,
        now,
        type=type_.pk,
        place=place.pk,
        quantity=quantity,
        seen=Seen.TYPED,
        data={"condition": Fitness.SOUND.value, "repair": order.pk, "reason": f"used for repair {order}"},
    )
    _tell(report, by, now)
    return RepairPart.objects.create(
        order=order,
        type=type_,
        place=place,
        quantity=quantity,
        unit_cost=type_.replacement_value,
        event_id=report.id,
    )


@transaction.atomic
def finish_repair(
    order: RepairOrder, *, words: str, work_cost: Decimal, by: Person | None, now: datetime
) -> RepairOrder:
    """The work is done. The piece stays locked, if it was, until somebody has inspected it."""
    _is_open(order)
    order.done_at, order.done_by, order.done_words, order.work_cost = now, by, words, work_cost
    order.full_clean()
    order.save()
    data = {"repair": order.pk, "note": words, "cost": str(cost_of(order))}
    _tell(Report(Kind.REPAIRED, now, piece=order.piece_id, seen=Seen.TYPED, data=data), by, now)
    return order


@transaction.atomic
def give_up(order: RepairOrder, *, why: str, now: datetime) -> RepairOrder:
    """Not to be mended after all. What went into it stays counted; retiring or cutting the piece is another press."""
    _is_open(order)
    order.given_up_at, order.why_given_up = now, why
    order.save()
    return order


def date_repair(order: RepairOrder, *, ready_on: date | None, estimate: Decimal | None, work_cost: Decimal) -> None:
    """What planning and the choice between mending and buying read, put right while it is open."""
    _is_open(order)
    order.ready_on, order.estimate, order.work_cost = ready_on, estimate, work_cost
    order.full_clean()
    order.save()


def cost_of(order: RepairOrder) -> Decimal:
    """Work and parts so far."""
    return order.work_cost + sum((part.unit_cost * part.quantity for part in order.parts.all()), Decimal(0))


def _is_open(order: RepairOrder) -> None:
    if order.done_at or order.given_up_at:
        raise Refused("not-open", f"Repair {order} is {order.stage}. Open another one.")
