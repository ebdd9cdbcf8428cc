"""Pages that read the summaries of lives bring them up to date first, and say as of when they are."""

from __future__ import annotations

from typing import Any

from django_tasks_db.models import DBTaskResult

from inventory.services.summing import bring_up_to_date
from inventory.tasks import sum_lives


def as_of() -> dict[str, Any]:
    """For the page's context: `as_of`, and `behind` when the worker has first to take in a great many reports."""
    standing = bring_up_to_date()
    if standing.behind and not _asked_for():
        sum_lives.enqueue()
    return {"as_of": standing.as_of, "behind": standing.behind}


def _asked_for() -> bool:
    waiting = DBTaskResult.objects.filter(task_path=sum_lives.module_path, status__in=["READY", "RUNNING"])
    return waiting.exists()
