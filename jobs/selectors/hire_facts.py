"""All that a job's hire is computed from, as the office knew it: read from the ledger and the desk's notes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

from inventory.figures.life import money_said
from inventory.models import GearType
from jobs.hire.charges import replacement_value, sale_price
from jobs.hire.moves import Move, gather
from jobs.hire.stays import Facts, StandDown, Stay, day_of
from jobs.hire.terms import Terms
from jobs.models import Exchange, Job, LossSettled, OffHire
from jobs.models import StandDown as StandDownRow
from jobs.selectors.hire_charges import Hired, LeftOut, charges_of, known_rows, prices_given, terms_on
from jobs.selectors.hire_moves import Life, World, counted_moves, lives, pieces_of, read_world
from jobs.selectors.hire_terms import terms_for


@dataclass
class Known:
    """The facts of one job as known, with what a reader wants to know beside them."""

    facts: Facts
    labels: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)


def facts_of(job: Job, known_at: datetime, world: World | None = None) -> Known:
    """The facts of a job as recorded by `known_at`."""
    world = world or read_world()
    terms = terms_for(job, known_at)
    found = list(lives(pieces_of(job), world, known_at))
    goods = counted_moves(job, world, known_at)
    moves = [move for life in found for move in life.moves]
    moves += [move for move in goods if move.type not in world.used_up]
    gathered = gather(_with_notes(job, moves, known_at))
    key = str(job.pk)
    mine = {stay.id for stay in gathered.stays if gathered.jobs[stay.id] == key}
    by_count = {move.type for move in goods}
    stays = [one for one in gathered.stays if one.id in mine and is_on_hire(one.type, one.kind, terms, by_count)]
    stays = _valued(_off_hired(job, _with_costs(stays, found), known_at, terms), found)
    prices = prices_given(job, known_at)
    stays, unvalued = _worth(stays, terms, prices)
    kept, left_out = charges_of(job, known_at, world, found, Hired(stays, gathered, mine, goods, prices), terms)
    facts = Facts(
        terms=terms or (Terms(),),
        stays=tuple(sorted(stays, key=lambda one: (one.out, one.id))),
        uses=tuple(one for one in gathered.uses if one.stay in mine),
        stand_downs=tuple(_stand_downs(job, known_at)),
        charges=kept,
    )
    labels = {str(life.piece.pk): life.piece.label for life in found}
    findings = [one.sentence for one in gathered.findings if one.move in {stay.out_event for stay in stays}]
    return Known(facts, labels, findings, [*unvalued, *left_out])


def is_on_hire(code: str, kind: str, terms: Sequence[Terms], by_count: set[str]) -> bool:
    """Crates and counted goods are on hire only where some terms give them a rate of their own."""
    if kind != GearType.Kind.CRATE and code not in by_count:
        return True
    rates = [one.rate_for(code, kind) for one in terms]
    return any(rate is not None and (rate.type or rate.kind) for rate in rates)


def _with_costs(stays: list[Stay], found: Iterable[Life]) -> list[Stay]:
    """Hired-in pieces with what they cost us a day, where their owner's price is on record."""
    costs = {str(life.piece.pk): life.piece.hired_in.cost_day for life in found if hasattr(life.piece, "hired_in")}
    return [
        replace(one, cost_day=costs[piece]) if (piece := one.id.rpartition("/")[2]) in costs and one.hired_in else one
        for one in stays
    ]


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


def _off_hired(job: Job, stays: list[Stay], known_at: datetime, terms: Sequence[Terms]) -> list[Stay]:
    """Confirmed off-hire dates, put on gear then out: first on what came back first from then on."""
    zone = terms[-1].zone if terms else None
    rows = known_rows(OffHire, job, known_at).filter(confirmed_at__lte=known_at).select_related("type")
    for row in rows.order_by("on", "pk"):
        fits = [
            place
            for place, one in enumerate(stays)
            if one.off_hire is None
            and day_of(one.out, zone) <= row.on
            and (one.back is None or day_of(one.back, zone) > row.on)
            and (row.type is None or row.type.code == one.type)
        ]
        fits.sort(key=lambda place: (day_of(stays[place].back or date.max, zone), stays[place].out, stays[place].id))
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


def _worth(
    stays: list[Stay], terms: Sequence[Terms], prices: Mapping[str, Decimal]
) -> tuple[list[Stay], list[LeftOut]]:
    """Lost and sold gear that the terms give no value for: at the price the desk gave, or left out until it does."""
    valued, left_out = [], []
    for one in stays:
        known = one.end == "returned" or (sale_price if one.end == "sold" else replacement_value)(
            terms_on(terms, one.back), one
        )
        kind = "loss" if one.end == "lost" else "sale"
        price = prices.get(f"{kind}:{one.id}")
        if known is None and price is None:
            words = f"{one.count} of {one.type} {one.end}"
            left_out.append(LeftOut(f"{kind}:{one.id}", words, f"The terms give no value for {one.type}.", True))
        valued.append(replace(one, replacement=price) if known is None and price is not None else one)
    return valued, left_out
