"""Which dirty and broken pieces jobs wait for: the head of the cleaning and of the repair queue."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

from django.db.models import Q, QuerySet

from inventory.lifecycle.kinds import Fitness, Standing
from jobs.models import FitFirst, Job


class WantedFit(NamedTuple):
    """The day a piece is to be loaded, and the job that waits for it."""

    by_day: date
    job: Job


def still_wanted() -> QuerySet[FitFirst]:
    """Pieces that are still to be cleaned or mended, for jobs that still want them; soonest first."""
    unfit = Q(piece__fitness=Fitness.UNFIT)
    return (
        FitFirst.objects.filter(
            Q(need=FitFirst.Need.MEND) & unfit | Q(piece__dirty=True) & ~unfit, piece__standing=Standing.HELD
        )
        .exclude(job__stage__in=[Job.Stage.DECLINED, Job.Stage.BACK])
        .select_related("job")
        .order_by("by_day", "id")
    )


def wanted_fit_first() -> dict[int, WantedFit]:
    """By piece id: the soonest day that it is wanted fit, and by which job."""
    found: dict[int, WantedFit] = {}
    for wish in still_wanted():
        found.setdefault(wish.piece_id, WantedFit(wish.by_day, wish.job))
    return found
