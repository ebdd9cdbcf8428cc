"""What the record itself makes a charge of, and what the desk adds to it, leaves out or prices.

Every trade rule here is common practice without a source, unless said otherwise: a truck is charged once a docket;
what is used up is sold when it goes out, and what comes back of it is taken back; what is found on a piece before it is
made sound again is one damage. Nothing is left out in silence: see `LeftOut`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any, NamedTuple

from django.db.models import Q

from inventory.lifecycle.events import Event
from inventory.lifecycle.kinds import Fitness
from jobs.hire.charges import charge_price
from jobs.hire.damage import damaged_on
from jobs.hire.moves import Gathered, Move
from jobs.hire.rounding import rounded
from jobs.hire.stays import Charge, Stay, day_of, holding
from jobs.hire.terms import Terms
from jobs.hire.words import plain
from jobs.models import ChargePrice, HireCharge, Job, Waiver
from jobs.selectors.hire_moves import Life, World

WORST_FIRST = {Fitness.UNFIT: 0, Fitness.WATCH: 1, Fitness.SOUND: 2}
SEEN_BEFORE = "Taken to be the same damage, seen again before the piece was sound; the worst of it is charged."


@dataclass(frozen=True)
class LeftOut:
    """Something on record that is not charged. `blocks`: only because nothing prices it, so a person must decide.

    `key` is the charge's kind and id, as a price given by the desk or a waiver names it. `price` is what the terms
    would ask, where they say.
    """

    key: str
    description: str
    why: str
    blocks: bool
    price: Decimal | None = None


class Hired(NamedTuple):
    """A job's stays (those charged, and all its pieces ever had), goods tracked by count, and the desk's prices."""

    stays: list[Stay]
    gathered: Gathered
    mine: set[str]
    goods: list[Move]
    prices: Mapping[str, Decimal]


class Notes(NamedTuple):
    """What the desk decided about charges, by their keys."""

    waived: set[str]
    prices: Mapping[str, Decimal]


def charges_of(
    job: Job, known_at: datetime, world: World, found: Iterable[Life], hired: Hired, terms: Sequence[Terms]
) -> tuple[tuple[Charge, ...], list[LeftOut]]:
    """Everything charged once on a job, as known, and what is left out of it."""
    damage, again = _damage(found, hired, terms)
    charges = [
        *_trucks(job, world, hired.stays, hired.goods, terms),
        *_dirty(job, found, hired.gathered.stays, hired.gathered.jobs, terms),
        *damage,
        *_used_up([move for move in hired.goods if move.type in world.used_up]),
        *_desk(job, known_at),
    ]
    waived = set(known_rows(Waiver, job, known_at).values_list("charge", flat=True))
    return _priced(charges, again, terms, Notes(waived, hired.prices))


def known_rows(model: Any, job: Job, known_at: datetime) -> Any:
    """The desk's notes on a job as they stood at a moment."""
    rows = model.objects.filter(job=job, recorded_at__lte=known_at)
    return rows.filter(Q(withdrawn_at=None) | Q(withdrawn_at__gt=known_at)).order_by("pk")


def prices_given(job: Job, known_at: datetime) -> dict[str, Decimal]:
    """The desk's own prices by charge; the last given holds."""
    rows = known_rows(ChargePrice, job, known_at).values_list("charge", "unit_amount")
    return {charge: price.normalize() for charge, price in rows}


def _trucks(job: Job, world: World, stays: list[Stay], goods: list[Move], terms: Sequence[Terms]) -> Iterable[Charge]:
    if not any(one.delivery != Terms().delivery for one in terms):
        return
    carried = {stay.line for stay in stays} | {move.line for move in goods}
    for docket in world.dockets.values():
        if docket.left_at is None or docket.cancelled_at is not None:
            continue
        if docket.to_place_id == job.site_id and docket.number in carried:
            yield _truck(docket.number, "out", docket.left_at)
        elif docket.from_place_id == job.site_id and docket.direction == docket.Direction.BACK:
            yield _truck(docket.number, "back", docket.left_at)


def _truck(number: str, leg: str, at: datetime) -> Charge:
    words = "Delivery" if leg == "out" else "Collection"
    return Charge("delivery", f"{words} with docket {number}", id=number, leg=leg, date=at)  # type: ignore[arg-type]


def _dirty(
    job: Job, found: Iterable[Life], stays: Iterable[Stay], jobs: dict[str, str], terms: Sequence[Terms]
) -> Iterable[Charge]:
    """What came back dirty, by docket and type, dated by the first of it."""
    if not any(one.cleaning for one in terms):
        return
    mine = [one for one in stays if jobs[one.id] == str(job.pk)]
    ended = {(one.back_event, one.id.rpartition("/")[2]): one for one in mine}
    heaps: dict[tuple[int | None, str, str], list[tuple[datetime, str]]] = defaultdict(list)
    for life in found:
        for event in life.returns:
            stay = ended.get((str(event.id), str(life.piece.pk)))
            if stay is not None and event.data.get("dirty"):
                key = (event.docket, life.piece.type.code, life.piece.type.kind)
                heaps[key].append((event.happened, stay.id))
    for (docket, code, kind), several in heaps.items():
        first = min(at for at, _ in several)
        yield Charge(
            "cleaning",
            f"Cleaning of {code}",
            quantity=Decimal(len(several)),
            id=f"{docket or 'no-docket'}:{code}",
            type=code,
            gear=kind,
            date=first,
            stays=tuple(sorted(stay for _, stay in several)),
        )


def _damage(found: Iterable[Life], hired: Hired, terms: Sequence[Terms]) -> tuple[list[Charge], list[Charge]]:
    """Each damage once: (what is charged, what is taken to be the same damage seen again).

    Until a piece is made sound again, what is found on it in one stay is one damage, at the worst grade found: the
    site tells of it and the yard finds it again. Once it is sound, what is found next is another.
    """
    of_piece: dict[str, list[Stay]] = defaultdict(list)
    for one in hired.gathered.stays:
        of_piece[one.id.rpartition("/")[2]].append(one)
    charged, again = [], []
    for life in found:
        spells: dict[tuple[str, int], list[Charge]] = defaultdict(list)
        for event in life.damage:
            stay = _damaged(event, of_piece[str(life.piece.pk)], terms)
            if stay is not None and stay.id in hired.mine:
                spell = sum(stay.out <= one.happened and one.key < event.key for one in life.mended)
                spells[stay.id, spell].append(_damage_charge(life, event, stay))
        told: dict[str, int] = defaultdict(int)
        for (stay_id, _), several in sorted(spells.items()):
            told[stay_id] += 1
            worst = min(several, key=_rank)
            charged.append(replace(worst, id=stay_id if told[stay_id] == 1 else f"{stay_id}#{told[stay_id]}"))
            again += [one for one in several if one is not worst]
    return charged, again


def _damaged(event: Event, its_own: list[Stay], terms: Sequence[Terms]) -> Stay | None:
    """The stay that damage found then is charged to, if any."""
    if event.data.get("charge") is False:
        return None
    stay = damaged_on(event.happened, its_own, terms_on(terms, event.happened))
    if stay is None and event.data.get("charge") is True:  # late, and somebody decided so all the same
        stay = max((one for one in its_own if one.out <= event.happened), key=lambda one: one.out, default=None)
    return stay


def _damage_charge(life: Life, event: Event, stay: Stay) -> Charge:
    grade = str(event.data.get("grade", Fitness.WATCH))
    return Charge(
        "damage",
        f"{life.piece.type.code} {life.piece.label}: {event.data.get('reason') or 'damaged'} ({grade})",
        id=str(event.id),
        type=life.piece.type.code,
        gear=life.piece.type.kind,
        grade=grade,
        date=event.happened,
        stays=(stay.id,),
        event=str(event.id),
    )


def _rank(charge: Charge) -> int:
    return WORST_FIRST.get(Fitness(charge.grade), 1) if charge.grade in set(Fitness) else 1


def _used_up(moves: Iterable[Move]) -> Iterable[Charge]:
    """Inserts and the like: sold as they go out, taken back as they come back."""
    for move in moves:
        if move.kind in ("out", "back"):
            words = "sold as it went out" if move.kind == "out" else "came back unused"
            yield Charge(
                "sale",
                f"{move.type}: {words}{f' with docket {move.line}' if move.line else ''}",
                quantity=Decimal(move.count if move.kind == "out" else -move.count),
                id=move.id,
                type=move.type,
                gear=move.gear,
                date=move.at,
                event=move.id,
            )


def _desk(job: Job, known_at: datetime) -> Iterable[Charge]:
    for row in known_rows(HireCharge, job, known_at):
        yield Charge(
            row.kind,
            row.description,
            quantity=row.quantity.normalize(),
            unit_amount=row.unit_amount,
            tax=row.tax_rate,
            id=f"desk-{row.pk}",
            date=row.on,
            recorded=row.recorded_at,
        )


def _priced(
    charges: Iterable[Charge], again: Iterable[Charge], terms: Sequence[Terms], notes: Notes
) -> tuple[tuple[Charge, ...], list[LeftOut]]:
    """What is charged, and what is left out: for want of a price, or as damage that was seen before."""
    kept, left_out = [], []
    for one in charges:
        key = f"{one.kind}:{one.id}"
        price, _ = charge_price(one, terms_on(terms, one.date))
        price = notes.prices.get(key) if price is None else price
        if key in notes.waived:
            continue
        if price is not None:
            kept.append(one if key not in notes.prices else replace(one, unit_amount=notes.prices[key]))
        elif one.kind in ("damage", "sale"):
            what = f"{one.kind}{f' graded {one.grade}' if one.grade else ''} of {one.type}"
            left_out.append(LeftOut(key, _said(one), f"The terms give no price for {what}.", True))
    for one in again:
        key = f"{one.kind}:{one.id}"
        if key in notes.prices:
            kept.append(replace(one, unit_amount=notes.prices[key]))
        elif key not in notes.waived:
            price, share = charge_price(one, terms_on(terms, one.date))
            asked = None if price is None else rounded(Fraction(price) * share, 4).normalize()
            left_out.append(LeftOut(key, _said(one), SEEN_BEFORE, False, asked))
    return tuple(kept), left_out


def _said(charge: Charge) -> str:
    day = f" on {charge.date.day} {charge.date:%B %Y}" if charge.date else ""
    return f"{charge.description}{day}" + (f", {plain(charge.quantity)}" if charge.quantity != 1 else "")


def terms_on(terms: Sequence[Terms], when: date | None) -> Terms:
    """The terms that hold on a day; the first of all before any does."""
    every = holding(terms) or (Terms(),)
    if when is None:
        return every[-1]
    day = day_of(when, every[-1].zone)
    held = [one for one in every if one.holds_from is None or one.holds_from <= day]
    return held[-1] if held else every[0]
