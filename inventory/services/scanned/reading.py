"""From what a device sent to what it said: one scan at a time, so that a faulty one never loses the rest.

The same rules stand in docs/schemas/scans.request.json, for whoever writes a device's program; a property test holds
each to the other. Reading by hand takes a tenth of the time that the schema would.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from inventory.errors import Refused
from inventory.lifecycle.kinds import Fitness, Kind
from inventory.services.reports import Manner, Unreadable, digest

VERSION = 1
MOST_SCANS = 500
LARGEST = 2**53 - 1
"""The largest whole number that every JSON reader keeps exact."""
ID = re.compile(r"[0-9A-Fa-f]{8}(-[0-9A-Fa-f]{4}){3}-[0-9A-Fa-f]{12}")
MOMENT = re.compile(r"20[0-9]{2}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?(Z|[+-][0-9]{2}:[0-9]{2})")
NOT_STORABLE = re.compile(r"\\u0000|\\ud[89a-f]|NaN|Infinity")
"""What json.dumps writes for what PostgreSQL's jsonb refuses (and, to be safe, for letters written as two halves)."""
NAMELESS = UUID("5b6f2b1e-6f0e-4c53-9a7e-3d1d9f6f4a10")
"""Scans whose id cannot be read get one made from their contents in this namespace, so that each is kept once."""
WHAT = frozenset(
    {
        Kind.SENT,
        Kind.RECEIVED,
        Kind.SET,
        Kind.CAST,
        Kind.CALLED_OFF,
        Kind.STRIPPED,
        Kind.CLEANED,
        Kind.RETURNED,
        Kind.COUNTED,
        Kind.FOUND_DAMAGED,
        Kind.REVERSED,
    }
)
"""What a device may report. Registering, inspecting, writing off and the like are done on pages, by named people."""


@dataclass(frozen=True, slots=True)
class Said:
    """One scan as it was said. Fields that were not given are None, or empty."""

    id: UUID
    seq: int
    happened: datetime
    what: Kind
    tag: str = ""
    whole: str = ""
    type: str = ""
    quantity: int | None = None
    docket: int | None = None
    place: int | None = None
    pour: int | None = None
    came_from: int | None = None
    dirty: bool | None = None
    grade: str = ""
    reason: str = ""
    photos: tuple[str, ...] = ()
    takes_back: UUID | None = None
    stocktake: int | None = None
    manner: Manner = Manner.TELL
    override: str = ""
    seen: str = "scanned"
    by: int | None = None
    note: str = ""


class _Fault(Exception):
    """What is wrong with one field, as the end of a sentence that begins with its name."""


def _text(longest: int) -> Callable[[Any], str]:
    def read(value: Any) -> str:
        if not isinstance(value, str) or not value.strip() or len(value) > longest:
            raise _Fault(f"must be text of 1 to {longest} characters")
        if "\x00" in value or any("\ud800" <= letter <= "\udfff" for letter in value):
            raise _Fault("holds a character that is no text")
        return value.strip()

    return read


def _one_of(*words: str) -> Callable[[Any], str]:
    def read(value: Any) -> str:
        if not isinstance(value, str) or value not in words:
            raise _Fault(f"must be one of: {', '.join(words)}")
        return value

    return read


def _number(least: int, most: int) -> Callable[[Any], int]:
    def read(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most or value % 1:
            raise _Fault(f"must be a whole number from {least} to {most}")
        return int(value)  # 5.0 is a whole number to JSON Schema, and some programs write it so

    return read


def _yes_or_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise _Fault("must be true or false")
    return value


def _uuid(value: Any) -> UUID:
    if not isinstance(value, str) or not ID.fullmatch(value):
        raise _Fault("must be a UUID of 36 characters")
    return UUID(value)


def moment_of(value: Any, name: str = "now") -> datetime:
    """The device's own time, or ours by its measure. Refused: now."""
    try:
        return moment(value)
    except _Fault as fault:
        raise Refused("now", f"The time “{name}” of the batch {fault}. Keep the scans and send them so.") from None


def moment(value: Any) -> datetime:
    try:
        if isinstance(value, str) and MOMENT.fullmatch(value):
            return datetime.fromisoformat(value)
    except ValueError:
        pass
    raise _Fault("must be a time with its offset, such as 2026-03-02T06:00:00+01:00")


def _photos(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or len(value) > 20:
        raise _Fault("must be a list of at most 20 photo ids")
    return tuple(str(_uuid(each)) for each in value)


_id = _number(1, LARGEST)
READERS: dict[str, tuple[str, Callable[[Any], Any]]] = {
    "id": ("id", _uuid),
    "seq": ("seq", _number(0, LARGEST)),
    "happened": ("happened", moment),
    "what": ("what", lambda value: Kind(_one_of(*sorted(WHAT))(value))),
    "tag": ("tag", _text(200)),
    "whole": ("whole", _one_of("pour", "docket")),
    "type": ("type", _text(40)),
    "quantity": ("quantity", _number(0, 1_000_000)),
    "docket": ("docket", _id),
    "place": ("place", _id),
    "pour": ("pour", _id),
    "from": ("came_from", _id),
    "dirty": ("dirty", _yes_or_no),
    "grade": ("grade", _one_of(*(grade.value for grade in Fitness))),
    "reason": ("reason", _text(200)),
    "photos": ("photos", _photos),
    "takes_back": ("takes_back", _uuid),
    "stocktake": ("stocktake", _id),
    "manner": ("manner", lambda value: Manner(_one_of("ask", "tell")(value))),
    "override": ("override", _text(200)),
    "seen": ("seen", _one_of("scanned", "typed")),
    "by": ("by", _id),
    "note": ("note", _text(300)),
}
NEEDED = ("id", "seq", "happened", "what")


def read_scan(raw: Any) -> Said | Unreadable:
    """What one scan says; or why it cannot be read, with what came kept as it came."""
    if not isinstance(raw, Mapping):
        return _unreadable(raw, "A scan must be an object with an id, a seq, a time and what happened.")
    said: dict[str, Any] = {}
    try:
        for name, value in raw.items():
            if name not in READERS:
                return _unreadable(
                    raw, f"A scan has no field “{_plain(name)}”. Leave it out, or spell it as documented."
                )
            field, read = READERS[name]
            said[field] = read(value)
    except _Fault as fault:
        return _unreadable(raw, f"The field “{_plain(name)}” {fault}.")
    missing = [name for name in NEEDED if name not in raw]
    if missing:
        return _unreadable(raw, f"The field “{missing[0]}” is missing.")
    scan = Said(**said)
    wrong = _wrong(scan)
    return _unreadable(raw, wrong) if wrong else scan


def _wrong(scan: Said) -> str:
    """What is wrong with the scan as a whole; empty when nothing is."""
    about = [bool(scan.tag), bool(scan.whole), bool(scan.type)]
    if scan.what == Kind.REVERSED:
        if scan.takes_back is None:
            return "Say in “takes_back” which scan is taken back."
        return "A scan that takes another back may name a tag, and nothing else." if any(about[1:]) else ""
    if sum(about) != 1:
        return "Say what it is about by exactly one of: tag, whole, type."
    if scan.whole:
        return _wrong_whole(scan)
    if scan.what == Kind.SENT and scan.docket is None:
        return "Say in “docket” which docket it was loaded on."
    if scan.what in (Kind.SET, Kind.CAST, Kind.CALLED_OFF) and scan.pour is None:
        return "Say in “pour” which pour it was."
    if scan.what in (Kind.RECEIVED, Kind.RETURNED) and scan.docket is None and scan.place is None:
        return "Say in “docket” what it came with, or in “place” where it is."
    if scan.what == Kind.COUNTED and scan.place is None:
        return "Say in “place” where it was counted."
    if scan.what == Kind.FOUND_DAMAGED and not scan.grade and not scan.reason:
        return "Say in “grade” how it is, or in “reason” what is wrong with it."
    return ""


def _wrong_whole(scan: Said) -> str:
    if scan.pour is None:
        return "Say in “pour” which pour it was."
    if scan.whole == "docket":
        return "" if scan.what == Kind.SET and scan.docket is not None else "A whole docket can only be set in a pour."
    if scan.what == Kind.SET:
        return "" if scan.came_from is not None else "Say in “from” which pour below it was stripped from."
    if scan.what not in (Kind.CAST, Kind.CALLED_OFF, Kind.STRIPPED, Kind.CLEANED):
        return "That is not said of a whole pour."
    return ""


def _unreadable(raw: Any, sentence: str) -> Unreadable:
    kept = storable(raw)
    try:
        pk = _uuid(raw["id"])
    except (_Fault, KeyError, TypeError, IndexError):
        pk = uuid5(NAMELESS, digest(kept))
    return Unreadable(pk, kept, f"{sentence} Correct it and send it again under the same id.")


def storable(raw: Any) -> Any:
    """What came, as JSON that both databases take; where they would not, its text, escaped once more."""
    text = json.dumps(raw)
    if (
        any(bad in text for bad in ("\\u0000", "\\ud8", "\\ud9", "\\uda", "\\udb", "NaN", "Infinity"))
        or "\\udc" in text
    ):
        return {"as_text": text}
    return raw


def _plain(name: str) -> str:
    return "".join(letter if letter.isprintable() else "?" for letter in name[:40])
