"""Inserts that are in the concrete: kept once a panel is cast, since they stay where they are whatever changes above.

They are kept when a pour's casting is pressed, and before anything is written that could move a bracket above: a
schedule, a plan, a rule. So a casting told in any other way is caught while its inserts can still be worked out.
"""

from __future__ import annotations

from django.db import transaction

from jobs.models import Job, Panel
from jobs.planning.inserts import inserts_for
from jobs.planning.takeoff import Takeoff
from jobs.selectors.cutlist import cut_list
from jobs.selectors.planned import lengths_planned
from jobs.selectors.pours import programme_of


@transaction.atomic
def keep_inserts(job: Job) -> int:
    """Writes the inserts of every panel that the record says is cast and that has none kept. How many panels.

    A casting that was taken back takes its inserts with it.
    """
    programme = programme_of(job)
    job.panels.filter(inserts__isnull=False).exclude(pour__name__in=programme.cast).update(inserts=None)
    waiting = list(job.panels.filter(inserts__isnull=True, pour__name__in=programme.cast).select_related("pour"))
    if not waiting:
        return 0
    takeoff = cut_list(job, lengths_planned(job), programme=programme).takeoff
    added = dict(job.panels.values_list("mark", "added_at"))
    for panel in waiting:
        cast_at = programme.cast[panel.pour.name]
        panel.inserts = _inserts(takeoff, panel.mark, {mark for mark, at in added.items() if at <= cast_at})
    Panel.objects.bulk_update(waiting, ["inserts"])
    return len(waiting)


def _inserts(takeoff: Takeoff, mark: str, known: set[str]) -> list[list[int]]:
    """[side, mm along it] of each insert; none for a panel above that was not thought of when this one was cast."""
    items = {item.panel.mark: item for item in takeoff.panels}
    lower = items[mark]
    if lower.above is None or lower.above not in known:
        return []
    upper = items[lower.above]
    places, _ = inserts_for(lower.panel, upper.panel, upper.runs, upper.brackets)
    return sorted([one.insert.side, one.insert.along_mm] for one in places)


def keep_all_inserts() -> None:
    """For what reaches every job, such as a take-off rule."""
    for job in Job.objects.under_way():
        keep_inserts(job)
