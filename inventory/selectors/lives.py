"""The summaries of lives read back, as the plain values they were made from."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from inventory.figures.life import Dirt, Life, Month, MonthKey, Run, Stay
from inventory.models import PieceDirty, PieceLife, PieceMonth, PieceRun, PieceStay


def stored_lives(pieces: Sequence[int]) -> dict[int, Life]:
    """By piece; those never summed are not among them."""
    found = {}
    for row in PieceLife.objects.filter(piece__in=pieces):
        found[row.piece_id] = Life(
            row.entry_uses,
            row.uses,
            _date(row.on_books),
            _date(row.off_books),
            row.ended,
            row.proceeds,
            row.inspected_at,
            row.uses_since_inspected,
            row.dirty_since,
            row.unfit_since,
            row.site_id,
        )
    for stay in PieceStay.objects.filter(piece__in=found).order_by("pk"):
        found[stay.piece_id].stays.append(Stay(stay.place_id, date.fromordinal(stay.since), _date(stay.until)))
    for run in PieceRun.objects.filter(piece__in=found).order_by("pk"):
        found[run.piece_id].runs.append(Run(run.place_id, run.entry, run.exit))
    for each in PieceDirty.objects.filter(piece__in=found).order_by("pk"):
        found[each.piece_id].dirt.append(Dirt(each.place_id, each.since, each.until))
    for month in PieceMonth.objects.filter(piece__in=found).order_by("pk"):
        found[month.piece_id].months[MonthKey(month.month, month.place_id)] = Month(
            month.casts, month.damaged, month.unfit, month.lost, month.cleans, month.uncleaned
        )
    return found


def _date(ordinal: int | None) -> date | None:
    return None if ordinal is None else date.fromordinal(ordinal)
