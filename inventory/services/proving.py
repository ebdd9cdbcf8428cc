"""Whether the summaries behind the figures equal the ledger; for a quiet moment."""

from __future__ import annotations

from django.db.models import F, Q

from inventory.figures.life import MonthKey
from inventory.models import CastSet, Event, Lot, LotMonth, PieceLife, SpanCount
from inventory.selectors.ledger import chunked
from inventory.selectors.lives import kept_of
from inventory.services.lots import SUMS, Cell, InLot, Shares, facts_of
from inventory.services.membership import Membership
from inventory.services.span_counts import Spans
from inventory.services.summing import bring_up_to_date, walks


def differences() -> list[int]:
    """Pieces whose stored summary is not what the ledger says; both as of the mark."""
    bring_up_to_date(most=10**9)
    wrong = []
    for ids in chunked(sorted(set(Event.objects.order_by().values_list("piece", flat=True).distinct()) - {None})):
        told, stored = walks(ids), {pk: (kept.life, kept.halt) for pk, kept in kept_of(ids).items()}
        wrong += [pk for pk in ids if told.get(pk) != stored.get(pk)]
    return wrong


def sums_that_differ() -> list[str]:
    """What of the stored sums, counts and sets is not what the lives of the pieces add to them; in words."""
    shares, members = Shares(), Membership()
    spans = Spans(facts_of(Lot.objects.values_list("pk", flat=True)))
    for ids in chunked(PieceLife.objects.order_by("pk").values_list("pk", flat=True)):
        for pk, kept in kept_of(ids).items():
            one = InLot(kept.lot, kept.life)
            shares.put(one)
            spans.put(one)
            members.put(pk, one)
    return [*_months(shares), *_spans(spans), *_sets(members)]


def _months(shares: Shares) -> list[str]:
    added = {cell: +numbers for cell, numbers in shares.cells.items() if +numbers}
    kept = {}
    for row in LotMonth.objects.all():
        cell = Cell(row.lot_id, row.place_id, row.month)
        kept[cell] = {name: getattr(row, name) for name in SUMS if getattr(row, name)}
    wrong = [cell for cell in {*added, *kept} if dict(added.get(cell, {})) != kept.get(cell, {})]
    return [f"lot {c.lot} at {c.place} in {c.month:%Y-%m}" for c in wrong]


def _spans(spans: Spans) -> list[str]:
    told = {cell.words: n for cell, n in spans.counts.items() if n}
    kept = dict(SpanCount.objects.order_by().values_list("cell", "n"))
    return [f"spans {cell}" for cell in {*told, *kept} if told.get(cell) != kept.get(cell)]


def _sets(members: Membership) -> list[str]:
    lots = {pk: bytes(packed) for pk, packed in Lot.objects.order_by().values_list("pk", "pieces") if packed}
    cast = {MonthKey(m, p): bytes(packed) for m, p, packed in CastSet.objects.values_list("month", "place", "pieces")}
    told_lots = {pk: each.of(b"") for pk, each in members.lots.items()}
    told_cast = {key: each.of(b"") for key, each in members.cast.items()}
    wrong = [f"pieces of lot {pk}" for pk in {*lots, *told_lots} if lots.get(pk) != told_lots.get(pk)]
    return wrong + [f"cast in {key}" for key in {*cast, *told_cast} if cast.get(key) != told_cast.get(key)]


def adrift() -> list[int]:
    """Summed pieces that are not what their lot says, and of which nobody said so; there should be none."""
    said = (
        ~Q(piece__type=F("lot__type"))
        | ~Q(piece__maker_batch=F("lot__maker_batch"))
        | Q(piece__hired_in=None, lot__ours=False)
        | Q(piece__hired_in__isnull=False, lot__ours=True)
    )
    cost = (
        Q(piece__cost=None, lot__cost__isnull=False)
        | Q(piece__cost__isnull=False, lot__cost=None)
        | Q(piece__cost__gt=F("lot__cost"))
        | Q(piece__cost__lt=F("lot__cost"))
    )
    bought = Q(piece__bought_on__year__gt=F("lot__year")) | Q(piece__bought_on__year__lt=F("lot__year"))
    year = (
        Q(piece__bought_on=None, lot__dated=True)
        | Q(piece__bought_on__isnull=False, lot__dated=False)
        | Q(lot__dated=True) & bought
    )
    rows = PieceLife.objects.filter(said | cost | year, entered_anew=False).order_by("pk")
    return list(rows.values_list("pk", flat=True))
