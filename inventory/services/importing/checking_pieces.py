"""A file of pieces against the books.

A piece is known by the code on its tag or by its owner's own number for it. What the ledger tells of a piece (place,
condition, dirt, uses, crate) is only taken for new pieces: on the others scans have the last word, and bringing the
same file in again must not carry gear back to where it once was.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from inventory.lifecycle.kinds import PlaceKind
from inventory.models import GearType, Piece, Place, Tag
from inventory.services.importing.columns import PIECES
from inventory.services.importing.findings import Checked, CheckedRow, Outcome

DETAILS = ("own_number", "giai", "bought_on", "cost", "maker_batch", "note")
HIRED = ("owner", "their_number", "due_back", "cost_day")
HEADINGS = {column.key: column.heading for column in PIECES}
_EMPTY: dict[str, Any] = {"maker_batch": "", "note": "", "their_number": "", "cost_day": 0}


@dataclass
class Books:
    """What the file's rows refer to, read once."""

    types: dict[str, GearType]
    places: dict[str, Place]
    tags: dict[str, Tag]
    by_number: dict[str, Piece]
    giais: dict[str, int]
    lines: dict[tuple[str, str], int] = field(default_factory=dict)
    crates_here: set[str] = field(default_factory=set)


def check_pieces(checked: Checked, _now: datetime) -> None:
    books = _books(checked.rows)
    for row in checked.rows:
        _not_twice(row, books)
        kind = books.types.get((row.values.get("type") or "").lower())
        if row.values.get("type") and kind is None:
            row.fault("type", f"No type “{row.values['type']}” in the catalogue: bring in or enter its type first.")
        piece = _known(row, books)
        row.about = piece
        if piece is not None:
            _judge_known(row, piece, kind)
        else:
            _judge_new(row, kind, books)
        _judge_hired(row)
        _judge_giai(row, piece, books)


def _books(rows: Iterable[CheckedRow]) -> Books:
    rows = list(rows)
    types = {each.code.lower(): each for each in GearType.objects.all()}
    numbers = [row.values[key] for row in rows for key in ("own_number", "crate") if row.values.get(key)]
    codes = [row.values[key] for row in rows for key in ("label", "crate") if row.values.get(key)]
    pieces = Piece.objects.select_related("type", "hired_in")
    crates = {
        row.values.get(key)
        for row in rows
        for key in ("label", "own_number")
        if (kind := types.get((row.values.get("type") or "").lower())) is not None and kind.is_crate
    }
    return Books(
        types,
        {str(place).lower(): place for place in Place.objects.in_use().select_related("parent")},
        {tag.code: tag for some in _chunks(codes) for tag in Tag.objects.filter(code__in=some)},
        {p.own_number: p for some in _chunks(numbers) for p in pieces.filter(own_number__in=some) if p.own_number},
        {giai: pk for giai, pk in Piece.objects.exclude(giai=None).values_list("giai", "pk") if giai},
        crates_here={crate for crate in crates if crate},
    )


def _chunks(items: list[str], size: int = 5000) -> Iterable[list[str]]:
    return (items[start : start + size] for start in range(0, len(items), size))


def _not_twice(row: CheckedRow, books: Books) -> None:
    for key in ("label", "own_number", "giai"):
        value = row.values.get(key)
        if not value:
            continue
        first = books.lines.setdefault((key, value), row.line)
        if first != row.line:
            row.fault(HEADINGS[key], f"The same stands on line {first}: one piece, one row.")


def _known(row: CheckedRow, books: Books) -> Piece | None:
    """The piece on the books that the row means, if there is one."""
    tag = books.tags.get(row.values.get("label") or "")
    numbered = books.by_number.get(row.values.get("own_number") or "")
    if not row.values.get("label") and not row.values.get("own_number"):
        row.fault("", "Neither tag nor own number: give one, or this row would be doubled when it is brought in again.")
    tagged = tag.piece if tag is not None else None
    if tagged is not None and numbered is not None and tagged.pk != numbered.pk:
        row.fault("own number", f"This number is on the piece tagged {numbered.label}, not on this one.")
    if numbered is not None and row.values.get("label") and tagged is None:
        row.fault("tag", f"The piece with this number carries {numbered.label}: put a new tag on through its own page.")
    return tagged or numbered


def _judge_known(row: CheckedRow, piece: Piece, kind: GearType | None) -> None:
    if kind is not None and kind.pk != piece.type_id:
        row.fault("type", f"On the books this piece is a {piece.type.code}: a piece keeps its type.")
    changes = [HEADINGS[key] for key in DETAILS if key in row.values and detail(row, key) != getattr(piece, key)]
    hired = getattr(piece, "hired_in", None)
    if "owner" in row.values:
        was = {key: getattr(hired, key, None) for key in HIRED}
        if hired is not None and not row.values["owner"]:
            row.fault("owner", "On the books this piece is hired in: end that on its own page.")
        elif row.values["owner"]:
            changes += [HEADINGS[key] for key in HIRED if key in row.values and detail(row, key) != was[key]]
    row.changes = tuple(changes)
    row.outcome = Outcome.CHANGED if changes else Outcome.SAME


def detail(row: CheckedRow, key: str) -> Any:
    """The value for a field: an empty cell is None, or what the field is when it is empty."""
    value = row.values.get(key)
    return _EMPTY.get(key) if value is None else value


def _judge_new(row: CheckedRow, kind: GearType | None, books: Books) -> None:
    if kind is not None and kind.tracked != GearType.Tracked.BY_TAG:
        row.fault("type", f"{kind.code} is counted, not tagged: bring it in as counted goods.")
    if kind is not None and kind.withdrawn:
        row.fault("type", f"{kind.code} is withdrawn: take that off its type first.")
    judge_place(row, books.places, {PlaceKind.POUR})
    crate = row.values.get("crate")
    if crate and _crate_at_fault(crate, kind, books):
        row.fault("crate", f"“{crate}” is no crate on the books or in this file: give its tag or own number.")


def _crate_at_fault(crate: str, kind: GearType | None, books: Books) -> bool:
    if kind is not None and kind.is_crate:
        return True
    tag = books.tags.get(crate)
    found = tag.piece if tag is not None else books.by_number.get(crate)
    return not (found.type.is_crate if found is not None else crate in books.crates_here)


def judge_place(row: CheckedRow, places: dict[str, Place], not_these: set[PlaceKind]) -> None:
    said = row.values.get("place")
    if not said:
        if not any(fault.column == "place" for fault in row.faults):
            row.fault("place", "Empty, and needed: say where it is.")
        return
    place = places.get(said.lower())
    if place is None:
        some = ", ".join(f"“{name}”" for name in sorted(str(p) for p in places.values() if p.kind not in not_these)[:6])
        row.fault("place", f"No place “{said}”: add it under Places, or write one of {some or 'the places there'}.")
    elif place.kind in not_these:
        row.fault("place", f"“{said}” is a {place.kind}: say the site, and set the piece there by scanning.")
    row.values["place"] = place


def _judge_hired(row: CheckedRow) -> None:
    if not row.values.get("owner") and any(row.values.get(key) for key in HIRED[1:]):
        row.fault("owner", "Empty, though there is something about hiring in: say whose the piece is.")


def _judge_giai(row: CheckedRow, piece: Piece | None, books: Books) -> None:
    holder = books.giais.get(row.values.get("giai") or "")
    if holder is not None and (piece is None or holder != piece.pk):
        row.fault("GIAI", "Another piece on the books has this identifier: it names one piece only.")
