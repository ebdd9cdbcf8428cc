"""One batch from a device, taken: each scan read by itself, all of them recorded at once, each answered by its id."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from inventory.services.keeping import Arrival
from inventory.services.recording import Recorded, record_batch
from inventory.services.reports import Report, Unreadable
from inventory.services.scanned.meaning import Named, named_in, report_of
from inventory.services.scanned.reading import Said, read_scan

__all__ = ["Arrival", "Recorded", "take"]


def take(scans: Sequence[Any], arrival: Arrival, *, may_override: bool = False) -> Recorded:
    """Record the scans of one batch; `may_override` when the one who delivers it may lift a refusal by a reason."""
    read = [read_scan(raw) for raw in scans]
    named = named_in([scan for scan in read if isinstance(scan, Said)])
    sender = _Sender(named, arrival.person, may_override)
    return record_batch([sender.meant(scan, raw) for scan, raw in zip(read, scans, strict=True)], arrival)


@dataclass(frozen=True, slots=True)
class _Sender:
    named: Named
    person: int | None
    may_override: bool

    def meant(self, scan: Said | Unreadable, raw: Any) -> Report | Unreadable:
        if isinstance(scan, Unreadable):
            return scan
        own = self.may_override and scan.by in (None, self.person)
        return report_of(scan, raw, self.named, may_override=own)
