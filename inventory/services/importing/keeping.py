"""From a file handed in to the press that takes or drops it."""

from __future__ import annotations

from collections import Counter
from datetime import datetime

from django.db import transaction

from inventory.errors import Refused
from inventory.models import BroughtIn, Person, Taking
from inventory.services.importing.checking import check
from inventory.services.importing.columns import FileKind
from inventory.services.importing.findings import Checked, Outcome
from inventory.services.importing.taking import STEP_ROWS, take, take_in_steps
from inventory.services.work import WorkCancelled, answered, beat, begin, cancelled, failed

# A workbook of some hundred rows of ours; a longer one is the worker's.
XLSX_BYTES = 40_000


def keep(kind: FileKind, name: str, content: bytes, *, by: Person | None, now: datetime) -> BroughtIn:
    """Keep the file as it came. Refused when it cannot be read at all."""
    check(kind, name, content, now)
    return BroughtIn.objects.create(kind=kind.value, name=name[-120:], content=content, brought_at=now, brought_by=by)


def look(brought: BroughtIn, now: datetime) -> Checked:
    return check(FileKind(brought.kind), brought.name, bytes(brought.content), now)


@transaction.atomic
def accept(brought: BroughtIn, *, by: Person | None, now: datetime) -> str:
    """Take it, once. What it came to, in words. Refused: import-done, import-busy, import-faulty."""
    held = _still_waiting(brought)
    return _taken(held, take(FileKind(held.kind), held.name, bytes(held.content), by=by, now=now), now)


def is_long(brought: BroughtIn) -> bool:
    """Whether taking it is the worker's: more lines than are written at once. XLSX packs many into few bytes."""
    content = bytes(brought.content)
    return content.count(b"\n") > STEP_ROWS or (content.startswith(b"PK") and len(content) > XLSX_BYTES)


@transaction.atomic
def ask_taking(brought: BroughtIn, *, by: Person | None, now: datetime) -> Taking:
    """A long file, waiting for the worker to take it. Refused: import-done, import-busy."""
    return Taking.objects.create(brought=_still_waiting(brought), asked_by=by, asked_at=now)


def carry_out(taking: Taking, *, now: datetime) -> None:
    """The worker's part. What goes wrong is stored in words, and raised for the log when it is not the file's fault."""
    if not begin(taking):
        return
    held = taking.brought
    file = (FileKind(held.kind), held.name, bytes(held.content))
    try:
        counts = take_in_steps(*file, by=taking.asked_by, now=now, beat=lambda percent: beat(taking, percent, "taking"))
        _taken(held, counts, now)
        answered(taking)
    except WorkCancelled:
        cancelled(taking)
    except Refused as refused:
        failed(taking, refused.sentence)
    except Exception:
        failed(taking, "Taking the file broke off. Take it again: what is on the books already is not taken twice.")
        raise


def _taken(held: BroughtIn, counts: Counter[Outcome], now: datetime) -> str:
    held.taken_at = now
    held.outcome = ", ".join(f"{counts[outcome]:,} {outcome}" for outcome in Outcome if counts[outcome])
    held.save(update_fields=["taken_at", "outcome"])
    return held.outcome


@transaction.atomic
def drop(brought: BroughtIn, now: datetime) -> None:
    held = _still_waiting(brought)
    held.dropped_at = now
    held.save(update_fields=["dropped_at"])


def _still_waiting(brought: BroughtIn) -> BroughtIn:
    held = BroughtIn.objects.select_for_update().get(pk=brought.pk)
    if held.taken_at or held.dropped_at:
        raise Refused("import-done", "This file has been dealt with already. Bring it in again to look once more.")
    if held.takings.filter(state__in=[Taking.State.WAITING, Taking.State.WORKING]).exists():
        raise Refused("import-busy", "This file is being taken now. Wait until that is over, or stop it first.")
    return held
