"""What a site promised about gear that is asked back."""

from __future__ import annotations

from datetime import date, datetime

from jobs.models import Chase


def keep_promise(*, chase: Chase, promised_on: date | None, settled: bool, now: datetime) -> Chase:
    """Dates the gear anew, or takes that back; settled, it is no longer asked for."""
    chase.promised_on = promised_on
    chase.settled_at = (chase.settled_at or now) if settled else None
    chase.save(update_fields=["promised_on", "settled_at"])
    return chase
