"""What may be cut: lengths that nobody has reserved, and bars that the mill sells."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from datetime import date

from django.db.models import Count, Q

from inventory.lifecycle.kinds import PlaceKind
from inventory.models import Piece
from jobs.models import MillBar
from jobs.planning.availability import yard_stock
from jobs.planning.remedies.cut_down import Surplus
from jobs.planning.remedies.new_bars import MillLength
from jobs.selectors.stock import claims_of_others, whereabouts
from jobs.selectors.waiting import Arrivals


def surplus_lengths(arrivals: Arrivals, codes: Collection[str], last: date) -> list[Surplus]:
    """Of each type, how many of ours lie in a yard and are wanted by no other job, on any day from today on.

    Parts take as long as a mend that goes first.
    """
    job, today, calendar = arrivals.job, arrivals.today, arrivals.calendar
    found = whereabouts(job, codes, today, calendar)
    claims = claims_of_others(job, codes, found, today, calendar)
    start = arrivals.on_site(arrivals.after(job.mend_first_days))
    days = {today, last} | {day for claim in claims for day, _ in claim.reserved} | {c.back for c in claims if c.back}
    surplus = []
    for code, ours in sorted(_ours(codes).items()):
        lots = [lot for lot in found.lots if lot.code == code]
        mine = [claim for claim in claims if claim.code == code]
        later = {day for day in days | {lot.until for lot in lots if lot.until} if day >= today}
        least = min(yard_stock(lots, mine, day) for day in later)
        if min(ours, least):
            surplus.append(Surplus(code, min(ours, least), start))
    return surplus


def _ours(codes: Collection[str]) -> Counter[str]:
    """Pieces of ours, fit, in a yard and in no pour, by type; hired in ones are never cut."""
    in_a_yard = Q(place__kind=PlaceKind.YARD) | Q(place__parent__kind=PlaceKind.YARD)
    pieces = Piece.objects.fit().filter(in_a_yard, type__code__in=codes, hired_in=None).order_by()
    return Counter(dict(pieces.values_list("type__code").annotate(count=Count("pk"))))


def mill_lengths(arrivals: Arrivals, sections: Collection[int]) -> list[MillLength]:
    """The mill bars listed for some sections."""
    return [
        MillLength(
            bar.section_mm,
            bar.length_mm,
            round(bar.cost * 100),
            arrivals.on_site(arrivals.after(bar.lead_days)),
            bar.count,
        )
        for bar in MillBar.objects.filter(section_mm__in=sections)
    ]
