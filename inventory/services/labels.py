"""Label sheets as vector PDF: a QR of the tag's address, the code in large letters, the type and the length."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from qrcode import QRCode
from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_Q
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from inventory.errors import Refused
from inventory.tags import code as tag_code
from inventory.tags.sheet import QUIET_MM, Sheet, code_side, faults, place_of, stands_upright

MOST_LABELS = 5_000
_QUIET_MODULES = 4  # ISO/IEC 18004 asks for four on every side
_HOST = re.compile(r"^https?://[a-z0-9.\-]+(:\d+)?/?$", re.IGNORECASE)
_WIDE = "MMMM-M"  # so that the codes on a sheet are all of one size
_LARGE, _SMALL = "Helvetica-Bold", "Helvetica"


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on one label. `kind` and `length` may be empty, as on a tag for which there is no piece yet."""

    code: str
    kind: str = ""
    length: str = ""


def modules(text: str) -> list[list[bool]]:
    """The QR matrix without its quiet zone: level Q, or H when that needs no larger version.

    A tag with dirt on it reads better at H, and H costs nothing while the symbol keeps its size; a larger version
    would make every module smaller, which costs distance.
    """
    high = _symbol(text, ERROR_CORRECT_H)
    symbol = high if high.best_fit() == _symbol(text, ERROR_CORRECT_Q).best_fit() else _symbol(text, ERROR_CORRECT_Q)
    symbol.make(fit=True)
    return symbol.get_matrix()


def _symbol(text: str, level: int) -> QRCode:
    symbol = QRCode(error_correction=level, border=0)
    symbol.add_data(text)
    return symbol


def sheet_pdf(labels: Iterable[Label], sheet: Sheet, base: str, *, copies: int = 1, skip: int = 0) -> bytes:
    """The whole PDF. `copies` of each label side by side (2: one for each end); `skip` places already peeled off."""
    wanted = [label for label in labels for _ in range(copies)]
    _check(wanted, sheet, base, skip)
    file = io.BytesIO()
    canvas = Canvas(file, pagesize=(float(sheet.page_width) * mm, float(sheet.page_height) * mm))
    canvas.setTitle(f"{len(wanted)} labels")
    page = 0
    for number, label in enumerate(wanted, start=skip):
        place = place_of(sheet, number)
        if place.page != page:
            canvas.showPage()
            page = place.page
        left = float(place.left) * mm
        bottom = float(sheet.page_height - place.top - sheet.label_height) * mm
        _draw(canvas, sheet, label, base, left, bottom)
    canvas.showPage()
    canvas.save()
    return file.getvalue()


def _check(wanted: Sequence[Label], sheet: Sheet, base: str, skip: int) -> None:
    found = faults(sheet)
    if found:
        raise Refused("label-sheet", " ".join(found))
    if not wanted:
        raise Refused("label-none", "Nothing to print: choose some pieces, or how many new tags.")
    if len(wanted) > MOST_LABELS:
        raise Refused("label-many", f"At most {MOST_LABELS:,} labels go into one PDF; this would be {len(wanted):,}.")
    if not 0 <= skip < sheet.per_page:
        raise Refused("label-skip", f"Start at a label between 1 and {sheet.per_page}.")
    if not _HOST.match(base):
        raise Refused(
            "label-address",
            f"“{base}” cannot be printed in the code. In the yard's settings give an address such as "
            "HTTPS://YARD.EXAMPLE: https, the host, and nothing after it.",
        )


def _draw(canvas: Canvas, sheet: Sheet, label: Label, base: str, left: float, bottom: float) -> None:
    side, quiet = float(code_side(sheet)) * mm, float(QUIET_MM) * mm
    width, height = float(sheet.label_width) * mm, float(sheet.label_height) * mm
    address = tag_code.address(base, label.code)
    if stands_upright(sheet):
        _draw_code(canvas, address, left + (width - side) / 2, bottom + height - quiet - side, side)
        _draw_words(canvas, label, left + quiet, bottom + quiet, width - 2 * quiet, height - side - 2 * quiet)
    else:
        _draw_code(canvas, address, left + quiet, bottom + (height - side) / 2, side)
        _draw_words(canvas, label, left + quiet + side, bottom + quiet, width - side - 2 * quiet, height - 2 * quiet)


def _draw_code(canvas: Canvas, text: str, left: float, bottom: float, side: float) -> None:
    """One path of horizontal strokes a code: as one shape it shows no hairlines between modules."""
    strokes, count = _strokes(text)
    unit = side / (count + 2 * _QUIET_MODULES)
    path = canvas.beginPath()
    for row, start, length in strokes:
        path.rect(
            left + (_QUIET_MODULES + start) * unit,
            bottom + (_QUIET_MODULES + count - 1 - row) * unit,
            length * unit,
            unit,
        )
    canvas.drawPath(path, stroke=0, fill=1)


@lru_cache(maxsize=4)  # two labels of one piece follow one another
def _strokes(text: str) -> tuple[list[tuple[int, int, int]], int]:
    """(row, first module, how many) of every dark stroke, and the modules on a side."""
    matrix = modules(text)
    found = []
    for row, cells in enumerate(matrix):
        start = None
        for column, dark in enumerate([*cells, False]):
            if dark and start is None:
                start = column
            elif not dark and start is not None:
                found.append((row, start, column - start))
                start = None
    return found, len(matrix)


def _draw_words(canvas: Canvas, label: Label, left: float, bottom: float, width: float, height: float) -> None:
    """The code in two lines, as large as the label allows; below it the type and the length."""
    first, second, check = tag_code.format(label.code).split("-")
    lines = [(first, _LARGE, 1.0), (f"{second}-{check}", _LARGE, 1.0)]
    lines += [(text, _SMALL, 0.62) for text in (label.length, label.kind) if text]
    share = height / (1.12 * sum(part for _, _, part in lines))
    size = min(share, *(_fits(text, _LARGE, width) for text in (_WIDE, first, f"{second}-{check}")))
    y = bottom + (height + 1.12 * size * sum(part for _, _, part in lines)) / 2
    for text, font, part in lines:
        drawn = min(size * part, _fits(text, font, width))
        y -= 1.12 * size * part
        canvas.setFont(font, drawn)
        canvas.drawString(left, y + 0.2 * drawn, text)


def _fits(text: str, font: str, width: float) -> float:
    """The greatest font size at which the text is no wider than `width`, points."""
    return width / max(stringWidth(text, font, 1.0), 0.01)
