"""One batch from a device, taken: each scan read by itself, all of them recorded at once, each answered by its id."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction

from inventory.lifecycle.sentences import sentence
from inventory.models import Device, Person, YardSettings
from inventory.services.recording import Answer, record
from inventory.services.reports import Report, Unreadable
from inventory.services.scanned.meaning import named_in, report_of
from inventory.services.scanned.reading import Said, read_scan


@dataclass(frozen=True, slots=True)
class Sender:
    """Who delivers a batch, with what, and whether a reason of theirs lifts a refusal."""

    person: Person | None
    device: Device
    may_override: bool = False


@dataclass(frozen=True, slots=True)
class Taken:
    """The answers in the order of the scans, and how far the device's clock is off (device minus ours)."""

    answers: list[Answer]
    clock_off: timedelta
    clock_is_off: bool

    @property
    def clock_sentence(self) -> str:
        return sentence("clock-off") if self.clock_is_off else ""


@transaction.atomic
def take(scans: Sequence[Any], sender: Sender, *, device_now: datetime, version: int, now: datetime) -> Taken:
    read = [read_scan(raw) for raw in scans]
    named = named_in([scan for scan in read if isinstance(scan, Said)])
    reports: list[Report | Unreadable] = [
        report_of(scan, raw, named, may_override=sender.may_override and scan.by in (None, _own(sender)))
        if isinstance(scan, Said)
        else scan
        for scan, raw in zip(read, scans, strict=True)
    ]
    answers = record(reports, by=sender.person, device=sender.device, device_now=device_now, version=version, now=now)
    off = device_now - now
    return Taken(answers, off, abs(off) > timedelta(minutes=YardSettings.current().clock_tolerance_minutes))


def _own(sender: Sender) -> int | None:
    return sender.person.pk if sender.person is not None else None
