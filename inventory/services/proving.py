"""Whether the summaries behind the figures equal the ledger; for a quiet moment."""

from __future__ import annotations

from django.db.models import F, Q

from inventory.models import Event, LotMonth, PieceLife
from inventory.selectors.ledger import chunked
from inventory.selectors.lives import stored_lives
from inventory.services.lots import SUMS, Cell, Shares, add_shares, days_here
from inventory.services.summing import bring_up_to_date, lives


def differences() -> list[int]:
    """Pieces whose stored summary is not what the ledger says; both as of the mark."""
    bring_up_to_date(most=10**9)
    wrong = []
    for ids in chunked(sorted(set(Event.objects.order_by().values_list("piece", flat=True).distinct()) - {None})):
        told, stored = lives(ids), stored_lives(ids)
        wrong += [pk for pk in ids if told.get(pk) != stored.get(pk)]
    return wrong


def months_that_differ() -> list[Cell]:
    """Months of lots whose stored sums are not those of the lives of their pieces."""
    told, day = Shares(), days_here()
    for ids in chunked(PieceLife.objects.order_by("pk").values_list("pk", flat=True)):
        lots = dict(PieceLife.objects.filter(pk__in=ids).values_list("pk", "lot"))
        for pk, life in stored_lives(ids).items():
            add_shares(told, lots[pk], life, day)
    added = {cell: +numbers for cell, numbers in told.items() if +numbers}
    kept = {}
    for row in LotMonth.objects.all():
        cell = Cell(row.lot_id, row.place_id, row.month)
        kept[cell] = {name: getattr(row, name) for name in SUMS if getattr(row, name)}
    return [cell for cell in {*added, *kept} if dict(added.get(cell, {})) != kept.get(cell, {})]


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
