"""Taking a checked file onto the books: at once, or a long one step by step by the worker."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from datetime import datetime, time
from functools import partial

from django.db import transaction
from django.utils import timezone

from inventory.errors import Refused
from inventory.lifecycle.kinds import Fitness, Kind, Seen
from inventory.models import GearType, HiredIn, Person, Piece, Submission, Tag
from inventory.services.importing.checking import check
from inventory.services.importing.checking_pieces import DETAILS, HIRED, detail
from inventory.services.importing.columns import FileKind
from inventory.services.importing.findings import Checked, CheckedRow, Outcome
from inventory.services.lots import entered_anew
from inventory.services.recording import record
from inventory.services.registering import NewPiece, register_pieces
from inventory.services.reports import Report
from inventory.services.tagging import unused_codes

Step = Callable[[], None]
STEP_ROWS = 500


@transaction.atomic
def take(kind: FileKind, name: str, content: bytes, *, by: Person | None, now: datetime) -> Counter[Outcome]:
    """Check again, since the books may have moved since the file was shown; then write all of it or nothing.

    Refused: import-faulty.
    """
    checked = _checked(kind, name, content, now)
    for step in _STEPS[kind](checked, by, now):
        step()
    return checked.counts


def take_in_steps(
    kind: FileKind, name: str, content: bytes, *, by: Person | None, now: datetime, beat: Callable[[int], None]
) -> Counter[Outcome]:
    """As `take`, but each few hundred rows are written by themselves, so that nobody's scan waits for a long file.

    `beat` is told the per cent done before each step, and may raise to stop. What was written stays; the same file
    brought in again finds it on the books and goes on from there. Refused: import-faulty.
    """
    checked = _checked(kind, name, content, now)
    steps = list(_STEPS[kind](checked, by, now))
    for done, step in enumerate(steps):
        beat(100 * done // len(steps))
        with transaction.atomic():
            step()
    return checked.counts


def _checked(kind: FileKind, name: str, content: bytes, now: datetime) -> Checked:
    checked = check(kind, name, content, now)
    if checked.all_faults:
        raise Refused(
            "import-faulty",
            f"Nothing was taken: {checked.all_faults[0]} Mend the file and bring it in again.",
        )
    return checked


def _parts(rows: list[CheckedRow]) -> Iterator[list[CheckedRow]]:
    return (rows[start : start + STEP_ROWS] for start in range(0, len(rows), STEP_ROWS))


def _type_steps(checked: Checked, _by: Person | None, _now: datetime) -> Iterator[Step]:
    return (partial(_save, part) for part in _parts(_to_do(checked)))


def _save(rows: list[CheckedRow]) -> None:
    for row in rows:
        row.about.save()


def _to_do(checked: Checked, *outcomes: Outcome) -> list[CheckedRow]:
    wanted = outcomes or (Outcome.NEW, Outcome.CHANGED)
    return [row for row in checked.rows if row.outcome in wanted]


def _piece_steps(checked: Checked, by: Person | None, now: datetime) -> Iterator[Step]:
    """Crates first, so that what lies in them can name them."""
    new = _to_do(checked, Outcome.NEW)
    types = _types_of(new)
    without = [row for row in new if not row.values.get("label")]
    for row, code in zip(without, unused_codes(len(without)), strict=True):
        row.values["label"] = code
    crates = [row for row in new if types[row.line].is_crate]
    rest = [row for row in new if not types[row.line].is_crate]
    for rows in (crates, rest):
        yield from (partial(_register, part, types, by, now) for part in _parts(rows))
    yield from (partial(_write_details, part) for part in _parts(_to_do(checked, Outcome.CHANGED)))


def _register(rows: list[CheckedRow], types: dict[int, GearType], by: Person | None, now: datetime) -> None:
    made = register_pieces([_new_piece(row, types[row.line].pk) for row in rows], by=by, now=now)
    pieces = {piece.label: piece for piece in made}
    for row in rows:
        row.about = pieces[row.values["label"]]
    _write_details(rows)


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
    entered_anew(row.about.pk for row in rows)


def _counted_steps(checked: Checked, by: Person | None, now: datetime) -> Iterator[Step]:
    return (partial(_record_counts, part, by, now) for part in _parts(_to_do(checked)))


def _record_counts(rows: list[CheckedRow], by: Person | None, now: datetime) -> None:
    for answer in record([_count(row, now) for row in rows], by=by, now=now):
        if answer.answer != Submission.Answer.RECORDED:
            raise Refused("import-not-recorded", f"Not taken: {answer.sentence}")


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


_STEPS: dict[FileKind, Callable[[Checked, Person | None, datetime], Iterator[Step]]] = {
    FileKind.TYPES: _type_steps,
    FileKind.PIECES: _piece_steps,
    FileKind.COUNTED: _counted_steps,
}
