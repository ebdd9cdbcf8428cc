"""Taking a checked file onto the books: all of it or none of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from datetime import datetime, time

from django.db import transaction
from django.utils import timezone

from inventory.errors import Refused
from inventory.lifecycle.kinds import Fitness, Kind, Seen
from inventory.models import GearType, HiredIn, Person, Piece, Submission, Tag
from inventory.services.importing.checking import check
from inventory.services.importing.checking_pieces import DETAILS, HIRED, detail
from inventory.services.importing.columns import FileKind
from inventory.services.importing.findings import Checked, CheckedRow, Outcome
from inventory.services.recording import record
from inventory.services.registering import NewPiece, register_pieces
from inventory.services.reports import Report
from inventory.services.tagging import unused_codes


@transaction.atomic
def take(kind: FileKind, name: str, content: bytes, *, by: Person | None, now: datetime) -> Counter[Outcome]:
    """Check again, since the books may have moved since the file was shown; then write. Refused: import-faulty."""
    checked = check(kind, name, content, now)
    if checked.all_faults:
        raise Refused(
            "import-faulty",
            f"Nothing was taken: {checked.all_faults[0]} Mend the file and bring it in again.",
        )
    _TAKE[kind](checked, by, now)
    return checked.counts


def _take_types(checked: Checked, _by: Person | None, _now: datetime) -> None:
    for row in _to_do(checked):
        row.about.save()


def _to_do(checked: Checked, *outcomes: Outcome) -> list[CheckedRow]:
    wanted = outcomes or (Outcome.NEW, Outcome.CHANGED)
    return [row for row in checked.rows if row.outcome in wanted]


def _take_pieces(checked: Checked, by: Person | None, now: datetime) -> None:
    """Crates first, so that what lies in them can name them."""
    new = _to_do(checked, Outcome.NEW)
    types = _types_of(new)
    without = [row for row in new if not row.values.get("label")]
    for row, code in zip(without, unused_codes(len(without)), strict=True):
        row.values["label"] = code
    crates = [row for row in new if types[row.line].is_crate]
    rest = [row for row in new if not types[row.line].is_crate]
    for some in (crates, rest):
        made = register_pieces([_new_piece(row, types[row.line].pk) for row in some], by=by, now=now) if some else []
        pieces = {piece.label: piece for piece in made}
        for row in some:
            row.about = pieces[row.values["label"]]
        _write_details(some)
    _write_details(_to_do(checked, Outcome.CHANGED))


def _types_of(rows: list[CheckedRow]) -> dict[int, GearType]:
    from_code = {each.code.lower(): each for each in GearType.objects.all()}
    return {row.line: from_code[row.values["type"].lower()] for row in rows}


def _new_piece(row: CheckedRow, type_id: int) -> NewPiece:
    said = row.values
    return NewPiece(
        type=type_id,
        codes=(said["label"],),
        place=said["place"].pk,
        fitness=Fitness(said.get("fitness") or Fitness.SOUND),
        dirty=bool(said.get("dirty")),
        uses=said.get("uses") or 0,
        crate=_crate(said["crate"]) if said.get("crate") else None,
        giai=said.get("giai"),
        bought_on=said.get("bought_on"),
        cost=said.get("cost"),
        maker_batch=said.get("maker_batch") or "",
        note=said.get("note") or "",
    )


def _crate(said: str) -> int:
    tag = Tag.objects.filter(code=said).exclude(piece=None).first()
    return tag.piece_id if tag is not None and tag.piece_id is not None else Piece.objects.get(own_number=said).pk


def _write_details(rows: list[CheckedRow]) -> None:
    """Details that are not in the ledger: they may be put right without a trace in the piece's history."""
    for row in rows:
        fields = [key for key in DETAILS if key in row.values]
        for key in fields:
            setattr(row.about, key, detail(row, key))
        if row.values.get("owner"):
            hired = {key: detail(row, key) for key in HIRED if key in row.values}
            HiredIn.objects.update_or_create(piece=row.about, defaults=hired)
    keys = [key for key in DETAILS if any(key in row.values for row in rows)]
    if keys:
        Piece.objects.bulk_update([row.about for row in rows], keys, batch_size=500)


def _take_counted(checked: Checked, by: Person | None, now: datetime) -> None:
    answers = record([_count(row, now) for row in _to_do(checked)], by=by, now=now)
    for answer in answers:
        if answer.answer != Submission.Answer.RECORDED:
            raise Refused("import-not-recorded", f"Nothing was taken: {answer.sentence}")


def _count(row: CheckedRow, now: datetime) -> Report:
    day = row.values.get("counted_on")
    at = min(now, timezone.make_aware(datetime.combine(day, time(12)))) if day else now
    return Report(
        Kind.COUNTED,
        at,
        type=row.about.pk,
        quantity=row.values["quantity"],
        place=row.values["place"].pk,
        seen=Seen.TYPED,
        data={"condition": row.values["condition"]},
    )


_TAKE: dict[FileKind, Callable[[Checked, Person | None, datetime], None]] = {
    FileKind.TYPES: _take_types,
    FileKind.PIECES: _take_pieces,
    FileKind.COUNTED: _take_counted,
}
