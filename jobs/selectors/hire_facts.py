"""All that a job's hire is computed from, as the office knew it at a moment: read from the ledger and the desk's notes.

Every trade rule here is common practice without a source, unless said otherwise: a truck is charged once a docket;
what is used up is sold when it goes out, and what comes back of it is taken back; of several damages found on a
piece's one stay the worst is charged.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Q

from inventory.figures.life import money_said
from inventory.lifecycle.kinds import Fitness
from inventory.models import GearType
from jobs.hire.charges import charge_price
from jobs.hire.damage import damaged_on
from jobs.hire.moves import Move, gather
from jobs.hire.stays import Charge, Facts, StandDown, Stay, day_of, holding
from jobs.hire.terms import Terms
from jobs.models import Exchange, HireCharge, Job, LossSettled, OffHire, Waiver
from jobs.models import StandDown as StandDownRow
from jobs.selectors.hire_moves import Life, World, counted_moves, lives, pieces_of, read_world
from jobs.selectors.hire_terms import terms_for

WORST_FIRST = {Fitness.UNFIT: 0, Fitness.WATCH: 1, Fitness.SOUND: 2}


@dataclass
class Known:
    """The facts of one job as known, with what a reader wants to know beside them."""

    facts: Facts
    labels: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


def facts_of(job: Job, known_at: datetime, world: World | None = None) -> Known:
    """The facts of a job as recorded by `known_at`."""
    world = world or read_world()
    terms = terms_for(job, known_at)
    found = list(lives(pieces_of(job), world, known_at))
    goods = counted_moves(job, world, known_at)
    used_up = set(GearType.objects.filter(used_up=True).values_list("code", flat=True))
    moves = [move for life in found for move in life.moves]
    moves += [move for move in goods if move.type not in used_up]
    gathered = gather(_with_notes(job, moves, known_at))
    key = str(job.pk)
    mine = {stay.id for stay in gathered.stays if gathered.jobs[stay.id] == key}
    by_count = {move.type for move in goods}
    stays = [one for one in gathered.stays if one.id in mine and _is_charged(one, terms, by_count)]
    stays = _valued(_off_hired(job, _with_costs(stays, found), known_at), found)
    charges = [
        *_trucks(job, world, stays, goods, terms),
        *_dirty(job, found, gathered.stays, gathered.jobs, terms),
        *_damage(found, gathered.stays, mine, terms),
        *_used_up([move for move in goods if move.type in used_up]),
        *_desk(job, known_at),
    ]
    kept, notes = _priced(charges, terms, _waived(job, known_at))
    facts = Facts(
        terms=terms or (Terms(),),
        stays=tuple(sorted(stays, key=lambda one: (one.out, one.id))),
        uses=tuple(one for one in gathered.uses if one.stay in mine),
        stand_downs=tuple(_stand_downs(job, known_at)),
        charges=kept,
    )
    labels = {str(life.piece.pk): life.piece.label for life in found}
    findings = [one.sentence for one in gathered.findings if one.move in {stay.out_event for stay in stays}]
    return Known(facts, labels, [*notes, *findings])


def _is_charged(stay: Stay, terms: Sequence[Terms], by_count: set[str]) -> bool:
    """Crates and counted goods are on hire only where some terms give them a rate of their own."""
    if stay.kind != GearType.Kind.CRATE and stay.type not in by_count:
        return True
    rates = [one.rate_for(stay.type, stay.kind) for one in terms]
    return any(rate is not None and (rate.type or rate.kind) for rate in rates)


def _with_costs(stays: list[Stay], found: Iterable[Life]) -> list[Stay]:
    """Hired-in pieces with what they cost us a day, where their owner's price is on record."""
    costs = {str(life.piece.pk): life.piece.hired_in.cost_day for life in found if hasattr(life.piece, "hired_in")}
    return [
        replace(one, cost_day=costs[piece]) if (piece := one.id.rpartition("/")[2]) in costs and one.hired_in else one
        for one in stays
    ]


def known_rows(model: Any, job: Job, known_at: datetime) -> Any:
    """The desk's notes on a job as they stood at a moment."""
    rows = model.objects.filter(job=job, recorded_at__lte=known_at)
    return rows.filter(Q(withdrawn_at=None) | Q(withdrawn_at__gt=known_at)).order_by("pk")


def _with_notes(job: Job, moves: list[Move], known_at: datetime) -> list[Move]:
    """Exchanges named on the gear that went out for them, and losses settled."""
    for row in known_rows(Exchange, job, known_at):
        piece, key = str(row.went_out_id), str(job.pk)
        outs = [n for n, one in enumerate(moves) if one.piece == piece and one.job == key and one.kind == "out"]
        for place in outs[-1:]:
            moves[place] = replace(moves[place], replaces=str(row.came_back_id))
    for row in known_rows(LossSettled, job, known_at):
        lost = [one for one in moves if one.piece == str(row.piece_id) and one.kind == "lost"]
        at = datetime.combine(row.on, datetime.max.time(), tzinfo=ZoneInfo("UTC"))
        moves += [replace(one, id=f"settled-{row.pk}", kind="settled", at=max(one.at, at)) for one in lost[-1:]]
    return moves


def _off_hired(job: Job, stays: list[Stay], known_at: datetime) -> list[Stay]:
    """Confirmed off-hire dates, put on gear then out: first on what came back first from then on."""
    rows = known_rows(OffHire, job, known_at).filter(confirmed_at__lte=known_at).select_related("type")
    for row in rows.order_by("on", "pk"):
        fits = [
            place
            for place, one in enumerate(stays)
            if one.off_hire is None
            and day_of(one.out) <= row.on
            and (one.back is None or day_of(one.back) > row.on)
            and (row.type is None or row.type.code == one.type)
        ]
        fits.sort(key=lambda place: (day_of(stays[place].back or date.max), stays[place].out, stays[place].id))
        left = row.quantity
        for place in fits:
            if left is not None and left < stays[place].count:
                break
            left = None if left is None else left - stays[place].count
            stays[place] = replace(stays[place], off_hire=row.on)
    return stays


def _valued(stays: list[Stay], found: Iterable[Life]) -> list[Stay]:
    """Losses at the value that was said when they were written off, or at none where the job is not charged."""
    said = {str(event.id): event.data for life in found for event in life.losses}
    return [replace(one, replacement=_value(said.get(one.back_event, {}), one)) for one in stays]


def _value(data: Mapping[str, Any], stay: Stay) -> Decimal | None:
    if stay.end != "lost":
        return stay.replacement
    if data.get("charge") is False:
        return Decimal(0)
    return money_said(data["value"]) if data.get("value") else stay.replacement


def _stand_downs(job: Job, known_at: datetime) -> Iterable[StandDown]:
    for row in known_rows(StandDownRow, job, known_at):
        yield StandDown(row.first, row.until, Fraction(row.share), row.reason, row.agreed_by, (), row.recorded_at)


def _waived(job: Job, known_at: datetime) -> set[str]:
    return set(known_rows(Waiver, job, known_at).values_list("charge", flat=True))


# What the record itself makes a charge of


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


def _damage(found: Iterable[Life], stays: Iterable[Stay], mine: set[str], terms: Sequence[Terms]) -> Iterable[Charge]:
    of_piece: dict[str, list[Stay]] = defaultdict(list)
    for one in stays:
        of_piece[one.id.rpartition("/")[2]].append(one)
    for life in found:
        worst: dict[str, Charge] = {}
        for event in life.damage:
            if event.data.get("charge") is False:
                continue
            its_own = of_piece[str(life.piece.pk)]
            stay = damaged_on(event.happened, its_own, terms_on(terms, event.happened))
            if stay is None and event.data.get("charge") is True:  # late, and somebody decided so all the same
                stay = max((one for one in its_own if one.out <= event.happened), key=lambda one: one.out, default=None)
            if stay is None or stay.id not in mine:
                continue
            grade = str(event.data.get("grade", Fitness.WATCH))
            charge = Charge(
                "damage",
                f"{life.piece.type.code} {life.piece.label}: {event.data.get('reason') or 'damaged'} ({grade})",
                id=stay.id,
                type=life.piece.type.code,
                gear=life.piece.type.kind,
                grade=grade,
                date=event.happened,
                stays=(stay.id,),
                event=str(event.id),
            )
            if stay.id not in worst or _rank(charge) < _rank(worst[stay.id]):
                worst[stay.id] = charge
        yield from worst.values()


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
    charges: Iterable[Charge], terms: Sequence[Terms], waived: set[str]
) -> tuple[tuple[Charge, ...], list[str]]:
    """The charges that the terms give a price for, and a note on each kind of those left out."""
    kept, left_out = [], Counter[str]()
    for one in charges:
        if f"{one.kind}:{one.id}" in waived:
            continue
        price, _ = charge_price(one, terms_on(terms, one.date))
        if price is not None:
            kept.append(one)
        elif one.kind in ("damage", "sale"):
            left_out[f"{one.kind}{f' graded {one.grade}' if one.grade else ''} of {one.type}"] += 1
    return tuple(kept), [
        f"The terms give no price for {what}: {n} not charged." for what, n in sorted(left_out.items())
    ]


def terms_on(terms: Sequence[Terms], when: date | None) -> Terms:
    """The terms that hold on a day; the first of all before any does."""
    every = holding(terms) or (Terms(),)
    if when is None:
        return every[-1]
    day = day_of(when, every[-1].zone)
    held = [one for one in every if one.holds_from is None or one.holds_from <= day]
    return held[-1] if held else every[0]
