"""What somebody reports, as a plain value; pages, imports, devices and the demo all hand the ledger these."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any
from uuid import UUID, uuid4

from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import GroupKind, Kind, Seen
from inventory.selectors.rows import as_json


class Manner(StrEnum):
    """A device asks before it happens, and may be refused; or tells what happened, and is believed."""

    ASK = "ask"
    TELL = "tell"


@dataclass(frozen=True, slots=True)
class Report:
    """One thing that happened, as it is reported.

    kind, happened_at   what, and when by the clock of whoever reports (zone-aware)
    id, seq             made where it happened; the same id again is the same report
    tag                 a printed code as scanned or typed; found out as of when it happened
    piece               the piece itself, where the page knows it
    group               a pour (id of its place), a crate (id of its piece) or a docket (its id)
    type, quantity      counted goods; or, with data {"untagged": True}, one piece without a readable tag
    place               where it happened, or where it led to: the pour for "set", the site for "received" and
                        "stripped", the yard for "returned"
    docket              the docket it was loaded on or came with
    from_docket         its data is to say as from_place where that docket leaves from
    target              for a reversal: the id of the event it takes back
    data                what else was said: dirty, grade, reason, crate, from_place, condition, uses, untagged
    raw                 what a device sent, word for word, if it came from one; the digest is taken over it
    by                  id of the person who saw it, where somebody else delivers it
    manner, override    for this report alone, where they differ from those of the call
    """

    kind: Kind
    happened_at: datetime
    id: UUID = field(default_factory=uuid4)
    seq: int = 0
    tag: str = ""
    piece: int | None = None
    group: Group | None = None
    type: int | None = None
    quantity: int | None = None
    place: int | None = None
    docket: int | None = None
    from_docket: bool = False
    seen: Seen = Seen.SCANNED
    target: UUID | None = None
    data: Mapping[str, Any] = field(default_factory=dict)
    raw: Mapping[str, Any] | None = None
    by: int | None = None
    manner: Manner | None = None
    override: str = ""

    @property
    def untagged(self) -> bool:
        return bool(self.data.get("untagged"))

    def as_raw(self) -> dict[str, Any]:
        """The report as JSON: what the device sent, or the fields that say something."""
        return dict(self.raw) if self.raw is not None else self.as_said()

    def canonical(self) -> tuple[str, str]:
        """Canonical JSON of what came, and its digest."""
        return _canonical(self.raw if self.raw is not None else self.as_said())

    def as_said(self) -> dict[str, Any]:
        """The fields that say something, as JSON; `understood` reads them back."""
        said: dict[str, Any] = {
            "id": str(self.id),
            "kind": self.kind.value,
            "happened_at": self.happened_at.isoformat(),
            "seen": self.seen.value,
        }
        optional = {
            "seq": self.seq or None,
            "tag": self.tag or None,
            "piece": self.piece,
            "group": [self.group.kind.value, self.group.id] if self.group else None,
            "type": self.type,
            "quantity": self.quantity,
            "place": self.place,
            "docket": self.docket,
            "from_docket": self.from_docket or None,
            "target": str(self.target) if self.target else None,
            "data": dict(self.data) or None,
        }
        return said | {name: value for name, value in optional.items() if value is not None}


@dataclass(frozen=True, slots=True)
class Unreadable:
    """What came in place of a report and cannot be understood: kept as it came, with what to do.

    happened   it tells what has happened, so that it is kept for a person to look at; otherwise it is refused
    """

    id: UUID
    raw: Any
    sentence: str
    code: str = "unreadable"
    happened: bool = False

    def as_raw(self) -> Any:
        return self.raw

    def canonical(self) -> tuple[str, str]:
        return _canonical(self.raw)


def understood(said: Mapping[str, Any]) -> Report:
    """The report that `as_said` wrote down."""
    group, target = said.get("group"), said.get("target")
    return Report(
        Kind(said["kind"]),
        datetime.fromisoformat(said["happened_at"]),
        id=UUID(said["id"]),
        seq=said.get("seq", 0),
        tag=said.get("tag", ""),
        piece=said.get("piece"),
        group=Group(GroupKind(group[0]), group[1]) if group else None,
        type=said.get("type"),
        quantity=said.get("quantity"),
        place=said.get("place"),
        docket=said.get("docket"),
        from_docket=said.get("from_docket", False),
        seen=Seen(said["seen"]),
        target=UUID(target) if target else None,
        data=said.get("data", {}),
    )


def digest(raw: Any) -> str:
    """SHA-256 in hex over the canonical JSON, so that the order of fields does not matter."""
    return _canonical(raw)[1]


def _canonical(raw: Any) -> tuple[str, str]:
    text = as_json(raw)
    return text, hashlib.sha256(text.encode()).hexdigest()
