"""From what a device said to a report for the ledger: what its few words stand for, given the dockets and types."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from inventory.lifecycle.events import Group
from inventory.lifecycle.kinds import GroupKind, Kind, Seen
from inventory.models import DamageReason, GearType, Person
from inventory.selectors.rows import holes, rows_of
from inventory.services.reports import Manner, Report, Unreadable
from inventory.services.scanned.reading import Said


@dataclass(frozen=True, slots=True)
class Named:
    """What the scans of one batch name, read once."""

    types: Mapping[str, GearType]
    grades: Mapping[str, str]
    people: frozenset[int]


def named_in(scans: Sequence[Said]) -> Named:
    types = {scan.type for scan in scans if scan.type}
    ungraded = {scan.reason for scan in scans if scan.reason and not scan.grade}
    people = {scan.by for scan in scans if scan.by is not None}
    return Named(
        {each.code: each for each in GearType.objects.filter(code__in=types)} if types else {},
        _usual_grades(ungraded) if ungraded else {},
        _people(people) if people else frozenset(),
    )


def _usual_grades(reasons: set[str]) -> dict[str, str]:
    return dict(DamageReason.objects.filter(words__in=reasons).values_list("words", "usual_grade"))


def _people(wanted: set[int]) -> frozenset[int]:
    """Of these, the people there are; one who is forgotten is nobody."""
    sql = f'SELECT "id" FROM "{Person._meta.db_table}" WHERE "id" IN ({holes(wanted)}) AND "forgotten_at" IS NULL'
    return frozenset(pk for (pk,) in rows_of(sql, [*wanted]))


def report_of(scan: Said, raw: Mapping[str, Any], named: Named, *, may_override: bool) -> Report | Unreadable:
    """The report that one scan makes; refused where it asks for what cannot be done, or means nothing here."""
    gear = named.types.get(scan.type)
    if refused := _refused(scan, gear):
        code, sentence = refused
        return Unreadable(scan.id, raw, sentence, code, code == "type-unknown" and scan.manner == Manner.TELL)
    untagged = gear is not None and gear.tracked == GearType.Tracked.BY_TAG
    return Report(
        kind=scan.what,
        happened_at=scan.happened,
        id=scan.id,
        seq=scan.seq,
        tag=scan.tag,
        group=_group(scan),
        type=gear.pk if gear is not None else None,
        quantity=(1 if untagged else scan.quantity) if gear is not None else None,
        place=scan.place if scan.place is not None else scan.pour,
        docket=scan.docket,
        from_docket=scan.docket is not None and _moves(scan, untagged),
        seen=Seen(scan.seen),
        target=scan.takes_back,
        data=_data(scan, named, counted=gear is not None and not untagged, untagged=untagged),
        raw=raw,
        by=scan.by if scan.by in named.people else None,
        manner=scan.manner,
        override=scan.override if may_override else "",
    )


def _refused(scan: Said, gear: GearType | None) -> tuple[str, str] | None:
    if scan.type and gear is None:
        return "type-unknown", f"There is no type “{scan.type}” in the catalogue. Choose it from the list again."
    if gear is not None and gear.tracked == GearType.Tracked.BY_TAG and (scan.quantity or 1) > 1:
        return "one-at-a-time", f"{gear.name} is tracked by tag. Report each piece without a readable tag by itself."
    if gear is not None and gear.tracked != GearType.Tracked.BY_TAG and scan.quantity is None:
        return "quantity-missing", f"Say how many of {gear.name}."
    return None


def _group(scan: Said) -> Group | None:
    """Of a whole docket, or a whole pour; what moves up a level is said of the pour below."""
    if scan.whole == "docket":
        return Group(GroupKind.DOCKET, scan.docket or 0)
    if scan.whole == "pour":
        pour = scan.came_from if scan.what == Kind.SET else scan.pour
        return Group(GroupKind.POUR, pour or 0)
    return None


def _moves(scan: Said, untagged: bool) -> bool:
    return (scan.what in (Kind.SENT, Kind.RETURNED) or untagged) and not scan.whole


def _data(scan: Said, named: Named, *, counted: bool, untagged: bool) -> dict[str, Any]:
    grade = scan.grade or named.grades.get(scan.reason, "")
    said: dict[str, Any] = {
        "untagged": untagged or None,
        "dirty": scan.dirty,
        "condition" if counted else "grade": grade or None,
        "reason": scan.reason or None,
        "from_place": scan.came_from if scan.docket is None and _moves(scan, untagged) else None,
        "photos": list(scan.photos) or None,
        "stocktake": scan.stocktake,
        "until_closed": (counted and scan.stocktake is not None) or None,
        "note": scan.note or None,
    }
    return {name: value for name, value in said.items() if value is not None}
