"""Moving long work along: begun, beating, answered, cancelled, failed; and ended for it when its worker died.

The pattern of a task:

    work = CoverCheck.objects.get(pk=pk)
    if not begin(work):
        return                                   # cancelled before it started, or somebody else has it
    try:
        answer = solve(..., progress=lambda percent, words: beat(work, percent, words))
        answered(work, answer=answer)
    except WorkCancelled:
        cancelled(work)
    except Exception:
        failed(work, "The check broke off. Ask again; if it breaks twice, tell the person who runs the server.")
        raise

Every step is one short statement of its own, so no transaction is open while the work goes on.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.apps import apps
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from inventory.errors import Refused
from inventory.models.work import LongWork, WorkerBeat

# A worker beats every BEAT_SECONDS; one that has been silent for SILENT_SECONDS is taken for dead.
BEAT_SECONDS = 10
SILENT_SECONDS = 60
WORK_SILENT_SECONDS = 300
DIED = "The worker stopped in the middle of this. Nothing was changed; ask again."


class WorkCancelled(Exception):
    """Raised by `beat` when somebody asked for the work to stop."""


def _rows(work: LongWork) -> Any:
    return type(work)._default_manager.filter(pk=work.pk)


def _set(work: LongWork, only_if: LongWork.State | None = None, **values: Any) -> bool:
    rows = _rows(work) if only_if is None else _rows(work).filter(state=only_if)
    changed = bool(rows.update(**values))
    work.refresh_from_db()
    return changed


def begin(work: LongWork) -> bool:
    """Takes the work up. False when it is not waiting any more, or was cancelled while it waited."""
    if work.cancel_asked:
        cancelled(work)
        return False
    return _set(work, LongWork.State.WAITING, state=LongWork.State.WORKING, beat_at=timezone.now())


def beat(work: LongWork, percent: int = 0, words: str = "") -> None:
    """Says how far it is, and raises WorkCancelled when it should stop."""
    _set(work, progress=max(0, min(100, percent)), stage_words=words[:120], beat_at=timezone.now())
    if work.cancel_asked or work.is_over:
        raise WorkCancelled


def answered(work: LongWork, **values: Any) -> bool:
    """Stores the outcome. False when it was ended meanwhile, in which case the outcome is dropped."""
    done = {"state": LongWork.State.ANSWERED, "progress": 100, "stage_words": "", "answered_at": timezone.now()}
    return _set(work, LongWork.State.WORKING, **done, **values)


def cancelled(work: LongWork) -> None:
    _set(work, state=LongWork.State.CANCELLED, answered_at=timezone.now(), stage_words="")


def failed(work: LongWork, sentence: str) -> None:
    _set(work, state=LongWork.State.FAILED, answered_at=timezone.now(), failure=sentence[:300], stage_words="")


def ask_to_cancel(work: LongWork) -> None:
    """Waiting work is cancelled at once; working work at its next beat."""
    if work.is_over:
        raise Refused("already-over", f"This is over already: it was {work.get_state_display()}.")
    _set(work, cancel_asked=True)
    _set(work, LongWork.State.WAITING, state=LongWork.State.CANCELLED, answered_at=timezone.now())


def record_beat(worker: str, *, at: dt.datetime | None = None) -> None:
    now = at or timezone.now()
    WorkerBeat.objects.update_or_create(worker=worker, defaults={"beat_at": now}, create_defaults=_born(now))


def _born(now: dt.datetime) -> dict[str, dt.datetime]:
    return {"started_at": now, "beat_at": now}


def sign_off(worker: str) -> None:
    WorkerBeat.objects.filter(worker=worker).delete()


def end_abandoned(*, at: dt.datetime | None = None) -> int:
    """Fails the tasks and the work of workers that died, and forgets those workers. Returns how many were ended."""
    now = at or timezone.now()
    WorkerBeat.objects.filter(beat_at__lt=now - dt.timedelta(seconds=SILENT_SECONDS)).delete()
    return _end_tasks(now) + _end_work(now)


def _end_tasks(now: dt.datetime) -> int:
    living = set(WorkerBeat.objects.values_list("worker", flat=True))
    ended = 0
    for task in DBTaskResult.objects.running():
        if not task.worker_ids or task.worker_ids[-1] not in living:
            task.set_failed(RuntimeError(DIED))
            ended += 1
    return ended


def _end_work(now: dt.datetime) -> int:
    silent = now - dt.timedelta(seconds=WORK_SILENT_SECONDS)
    over = {"state": LongWork.State.FAILED, "failure": DIED, "answered_at": now}
    kinds = [model for model in apps.get_models() if issubclass(model, LongWork)]
    return sum(
        kind._default_manager.filter(state=LongWork.State.WORKING, beat_at__lt=silent).update(**over) for kind in kinds
    )
