"""The books in the same columns that are brought in, and a blank template for each."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from inventory.lifecycle.kinds import Standing
from inventory.models import CountedStock, GearType, Piece
from inventory.services.importing.columns import COLUMNS, FileKind
from inventory.tags import code as tag_code


def rows(kind: FileKind) -> Iterator[list[Any]]:
    """Headings, then everything on the books. Text that a spreadsheet could run is for the writer to disarm."""
    yield [column.heading for column in COLUMNS[kind]]
    yield from {FileKind.TYPES: _types, FileKind.PIECES: _pieces, FileKind.COUNTED: _counted}[kind]()


def _types() -> Iterator[list[Any]]:
    for each in GearType.objects.order_by("kind", "section_mm", "length_mm", "code"):
        yield [_shown(getattr(each, column.key)) for column in COLUMNS[FileKind.TYPES]]


def _shown(value: Any) -> Any:
    return ("yes" if value else "no") if isinstance(value, bool) else value


def _pieces() -> Iterator[list[Any]]:
    """Gear on the books; what is lost, retired or cut down stays behind. Gear on the road has no place."""
    held = Piece.objects.filter(standing=Standing.HELD).order_by("pk")
    joined = held.select_related("type", "place__parent", "crate", "hired_in")
    for piece in joined.iterator(chunk_size=2000):
        yield [_shown(value) for value in _piece(piece)]


def _piece(piece: Piece) -> Iterable[Any]:
    hired = getattr(piece, "hired_in", None)
    yield tag_code.format(piece.label)
    yield piece.own_number
    yield piece.type.code
    yield str(piece.place) if piece.place else None
    yield from (piece.fitness, piece.dirty, piece.uses)
    yield tag_code.format(piece.crate.label) if piece.crate else None
    yield from (piece.giai, piece.bought_on, piece.cost, piece.maker_batch, piece.note)
    yield from (hired.owner, hired.their_number, hired.due_back, hired.cost_day) if hired else [None] * 4


def _counted() -> Iterator[list[Any]]:
    stock = CountedStock.objects.filter(docket=None).select_related("type", "place__parent")
    for each in stock.order_by("type__code", "place", "condition"):
        yield [each.type.code, str(each.place), each.condition, each.quantity, None]


def template(kind: FileKind) -> bytes:
    """XLSX: the headings on the first sheet, and on the second what to write in each column."""
    book = Workbook()
    sheet = book.active or book.create_sheet()
    sheet.title = kind.value
    sheet.append([column.heading for column in COLUMNS[kind]])
    for number, column in enumerate(COLUMNS[kind], start=1):
        sheet.cell(1, number).font = Font(bold=True)
        sheet.column_dimensions[get_column_letter(number)].width = max(12, len(column.heading) + 2)
    sheet.freeze_panes = "A2"
    help_sheet = book.create_sheet("what to write")
    help_sheet.append(["column", "needed", "what to write"])
    for column in COLUMNS[kind]:
        help_sheet.append([column.heading, "yes" if column.required else "", column.says])
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()
