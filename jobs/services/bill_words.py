"""A bill's words for its reader: tags and dockets for the ids that charging works with."""

from __future__ import annotations

import re
from datetime import datetime
from uuid import UUID

from django.db.models import QuerySet
from django.utils import timezone

from inventory.lifecycle.kinds import GroupKind
from inventory.models import Docket, Event, GearType
from jobs.hire.lines import Line
from jobs.hire.stays import Facts
from jobs.models import HireTerms
from jobs.selectors.hire_facts import Known

STAY = re.compile(r"\b([0-9a-f]{8}-[0-9a-f-]{27})/(\d+)\b")
TERMS = re.compile(r"\b(Terms|correct) T(\d+)\b")
EVENT = re.compile(r"\(event ([0-9a-f]{8}-[0-9a-f-]{27})(?::[^)]*)?\)")
KINDS = {
    "hire": "Hire of",
    "use": "Uses of",
    "loss": "Lost:",
    "sale": "Sold:",
    "minimum": "Minimum hire of one delivery",
}


class Namer:
    """Turns "1f…/17 was back (event 9c…)" into "P0017 was back (scanned 3 March 2026 14:02, event 9c1d2e3f)"."""

    def __init__(self, known: Known, then: Facts | None) -> None:
        self.labels = known.labels
        self.types = dict(GearType.objects.values_list("code", "name"))
        self.terms = {str(row.pk): f'"{row.name}" of {row.scope}' for row in _terms(known)}
        self.dockets = {one.id: one.line for one in known.facts.stays}
        if then is not None:
            self.dockets = {one.id: one.line for one in then.stays} | self.dockets
        self._events: dict[UUID, str] = {}

    def plain(self, text: str) -> str:
        """A sentence with each stay by its tag and each event by when it was seen."""
        text = STAY.sub(lambda found: self.labels.get(found[2], found[2]), text)
        text = TERMS.sub(lambda found: f"{found[1]} {self.terms.get(found[2], f'no. {found[2]}')}", text)
        return EVENT.sub(lambda found: f"({self._event(UUID(found[1]))})", text)

    def _event(self, pk: UUID) -> str:
        if pk not in self._events:
            row = Event.objects.filter(pk=pk).only("kind", "happened_at", "recorded_at", "seen").first()
            self._events[pk] = _said(row, pk)
        return self._events[pk]

    def docket(self, line: Line) -> str:
        """The docket that a line's gear went out on."""
        if line.kind == "delivery" and line.due and line.due.charge:
            return line.due.charge.id
        if line.kind == "sale" and line.due and line.due.charge and line.due.charge.event:
            return self._docket_of(UUID(line.due.charge.event.partition(":")[0]))
        found = {self.dockets.get(stay, "") for stay in line.stays}
        if not line.stays and ":" in line.line:
            found = {line.line.split(":")[1].partition("@")[0]} & set(self.dockets.values())
        name = found.pop() if len(found) == 1 else ""
        return name[:20]

    def _docket_of(self, event: UUID) -> str:
        """The docket that goods were on when they were sold or taken back."""
        row = Event.objects.filter(pk=event).select_related("docket").only("docket__number", "group_kind", "group_id")
        found = row.first()
        if found is None:
            return ""
        if found.docket is None and found.group_kind == GroupKind.DOCKET and found.group_id:
            return Docket.objects.filter(pk=found.group_id).values_list("number", flat=True).first() or ""
        return found.docket.number if found.docket else ""

    def description(self, line: Line, adjusts: bool) -> str:
        """What the customer reads first."""
        charge = line.due.charge if line.due else None
        name = self.types.get(line.type, "")
        what = f"{KINDS.get(line.kind, line.kind.capitalize())} {line.type} {name}".strip()
        if charge is not None:
            what = charge.description or what
        elif line.kind == "adjustment":
            kind, _, rest = line.line.partition("@")[0].partition(":")
            return f"Billed before and given back: {kind} {rest.replace(':', ' ')}".strip()[:240]
        return (f"Adjustment of earlier bills: {what}" if adjusts else what)[:240]


def _terms(known: Known) -> QuerySet[HireTerms]:
    """The terms named in the facts: those that hold, and those they correct."""
    named = {name.removeprefix("T") for one in known.facts.terms for name in (one.id, one.replaces) if name}
    return HireTerms.objects.filter(pk__in=named).select_related("job", "customer")


def _said(row: Event | None, pk: UUID) -> str:
    if row is None:
        return f"event {str(pk)[:8]}"
    return f"{row.seen} {_when(row.happened_at)}, recorded {_when(row.recorded_at)}, event {str(pk)[:8]}"


def _when(moment: datetime) -> str:
    local = timezone.localtime(moment)
    return f"{local.day} {local:%B %Y %H:%M}"
