"""A file of types against the catalogue."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError

from inventory.models import GearType
from inventory.services.importing.columns import TYPES
from inventory.services.importing.findings import Checked, CheckedRow, Outcome

_HEADINGS = {column.key: column.heading for column in TYPES}
_COUNTED_KINDS = {GearType.Kind.BOLT, GearType.Kind.INSERT, GearType.Kind.SCREW, GearType.Kind.WASHER}


def check_types(checked: Checked, _now: datetime) -> None:
    """Types are matched by code, capitals or not. `about` becomes the type as it would be saved."""
    known = {each.code.lower(): each for each in GearType.objects.all()}
    tagged = set(GearType.objects.filter(pieces__isnull=False).values_list("pk", flat=True).distinct())
    lines: dict[str, int] = {}
    for row in checked.rows:
        code = (row.values.get("code") or "").lower()
        if not code:
            continue
        if code in lines:
            row.fault("code", f"The same code stands on line {lines[code]}: keep one of the two rows.")
            continue
        lines[code] = row.line
        _measures(row, known.get(code))
        if not row.faults:
            _judge(row, known.get(code), tagged)


def _measures(row: CheckedRow, had: GearType | None) -> None:
    """An edge form without its measures is told of beside whatever else is wrong with its row."""
    if row.values.get("kind") != GearType.Kind.EDGE_FORM:
        return
    for key in ("section_mm", "length_mm"):
        value = row.values[key] if key in row.values else getattr(had, key, None)
        if value is None and not any(fault.column == _HEADINGS[key] for fault in row.faults):
            row.fault(_HEADINGS[key], "Empty, and an edge form needs it: write it in mm.")


def _judge(row: CheckedRow, had: GearType | None, tagged: set[int]) -> None:
    said = with_defaults(row.values) if had is None else {k: _or_default(k, v) for k, v in row.values.items()}
    if had is not None:
        said.pop("code")
        row.changes = tuple(_HEADINGS[key] for key, value in said.items() if getattr(had, key) != value)
        row.outcome = Outcome.CHANGED if row.changes else Outcome.SAME
        if had.pk in tagged and said.get("tracked", had.tracked) != had.tracked:
            row.fault("tracked", "Pieces of this type are on the books: they cannot be turned into a count.")
    row.about = had or GearType()
    for key, value in said.items():
        setattr(row.about, key, value)
    try:
        row.about.full_clean(validate_unique=False)
    except ValidationError as wrong:
        for key, sentences in wrong.message_dict.items():
            row.fault(_HEADINGS.get(key, ""), " ".join(sentences))


def with_defaults(values: dict[str, Any]) -> dict[str, Any]:
    """A new type: gear that is used with concrete is cleaned after it, small goods are counted."""
    said = {key: value for key, value in values.items() if value is not None}
    said.setdefault("clean_after_every_pour", said["kind"] == GearType.Kind.EDGE_FORM)
    counted = said["kind"] in _COUNTED_KINDS
    said.setdefault("tracked", GearType.Tracked.BY_COUNT if counted else GearType.Tracked.BY_TAG)
    return said


def _or_default(key: str, value: Any) -> Any:
    """An empty cell of a known type empties the field."""
    return getattr(GearType(), key) if value is None else value
