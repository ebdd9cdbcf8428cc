"""What may be cut: lengths that nobody has reserved, and bars that the mill sells."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from datetime import date

from django.db.models import Case, Count, Q, QuerySet, When

from inventory.lifecycle.kinds import Fitness, PlaceKind
from inventory.models import Piece, PlannedCut, RepairOrder
from jobs.models import Job, MillBar
from jobs.planning.availability import yard_stock
from jobs.planning.remedies.cut_down import Surplus
from jobs.planning.remedies.new_bars import MillLength
from jobs.selectors.fit_first import still_wanted
from jobs.selectors.picks import still_picked
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


def may_be_cut(codes: Collection[str]) -> QuerySet[Piece]:
    """Pieces of ours, fit, in a yard and in no pour, that nobody picked, put first, mends or plans to cut already."""
    in_a_yard = Q(place__kind=PlaceKind.YARD) | Q(place__parent__kind=PlaceKind.YARD)
    return (
        Piece.objects.fit()
        .filter(in_a_yard, type__code__in=codes, hired_in=None)
        .exclude(pk__in=still_picked().values("piece"))
        .exclude(pk__in=still_wanted().values("piece"))
        .exclude(repairs__in=RepairOrder.objects.open())
        .exclude(planned_cuts__in=PlannedCut.objects.open())
    )


def to_cut_for(job: Job, code: str) -> QuerySet[Piece]:
    """Those of one type: clean ones first, of the job's own yard, then those to be watched and the most used."""
    nearest = Case(When(Q(place=job.yard_id) | Q(place__parent=job.yard_id), then=0), default=1)
    watched = Case(When(fitness=Fitness.WATCH, then=0), default=1)
    pieces = may_be_cut([code]).annotate(nearest=nearest, watched=watched).select_related("type", "place")
    return pieces.order_by("dirty", "nearest", "watched", "-uses", "pk")


def _ours(codes: Collection[str]) -> Counter[str]:
    pieces = may_be_cut(codes).order_by()
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
