"""What a monitor needs to know, and nothing about what is stored."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from inventory.models.work import WorkerBeat

WORKER_SILENT_SECONDS = 60
WAITING_TOO_LONG_SECONDS = 15 * 60


def health_now(at: dt.datetime | None = None) -> dict[str, Any]:
    now = at or timezone.now()
    try:
        pending = _pending_migrations()
        if pending:
            return _report(False, database="answers", migrations=f"{pending} to apply")
        beat, oldest = _worker_beat_age(now), _oldest_waiting(now)
    except DatabaseError:
        return _report(False, database="does not answer")
    alive = beat is not None and beat <= WORKER_SILENT_SECONDS
    well = alive and (oldest is None or oldest <= WAITING_TOO_LONG_SECONDS)
    return _report(
        well,
        database="answers",
        migrations="current",
        worker="alive" if alive else "silent",
        worker_beat_seconds_ago=beat,
        oldest_waiting_task_seconds=oldest,
    )


def _report(well: bool, **facts: Any) -> dict[str, Any]:
    return {"well": well, **facts}


def _pending_migrations() -> int:
    executor = MigrationExecutor(connection)
    return len(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def _worker_beat_age(now: dt.datetime) -> int | None:
    last = WorkerBeat.objects.order_by("-beat_at").values_list("beat_at", flat=True).first()
    return None if last is None else max(0, int((now - last).total_seconds()))


def _oldest_waiting(now: dt.datetime) -> int | None:
    first = DBTaskResult.objects.ready().order_by("enqueued_at").values_list("enqueued_at", flat=True).first()
    return None if first is None else max(0, int((now - first).total_seconds()))
