"""From a file handed in to the press that takes or drops it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from inventory.errors import Refused
from inventory.models import BroughtIn, Person
from inventory.services.importing.checking import check
from inventory.services.importing.columns import FileKind
from inventory.services.importing.findings import Checked, Outcome
from inventory.services.importing.taking import take


def keep(kind: FileKind, name: str, content: bytes, *, by: Person | None, now: datetime) -> BroughtIn:
    """Keep the file as it came. Refused when it cannot be read at all."""
    check(kind, name, content, now)
    return BroughtIn.objects.create(kind=kind.value, name=name[-120:], content=content, brought_at=now, brought_by=by)


def look(brought: BroughtIn, now: datetime) -> Checked:
    return check(FileKind(brought.kind), brought.name, bytes(brought.content), now)


@transaction.atomic
def accept(brought: BroughtIn, *, by: Person | None, now: datetime) -> str:
    """Take it, once. What it came to, in words. Refused: import-done, import-faulty."""
    held = _still_waiting(brought)
    counts = take(FileKind(held.kind), held.name, bytes(held.content), by=by, now=now)
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
    return held
