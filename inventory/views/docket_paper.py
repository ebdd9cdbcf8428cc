"""The docket on A4, as vectors, to be signed and to travel with the truck."""

from __future__ import annotations

import io
import re
from datetime import datetime
from typing import Any
from xml.sax.saxutils import escape

from django.utils import timezone
from reportlab.graphics.shapes import Drawing, Path
from reportlab.lib import colors
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from inventory.models import YardSettings
from inventory.selectors.dockets import Line, Sheet

PLAIN = ParagraphStyle("plain", fontName="Helvetica", fontSize=9, leading=11.5)
SMALL = ParagraphStyle("small", parent=PLAIN, fontSize=7.5, leading=9.5)
HEAD = ParagraphStyle("head", parent=PLAIN, fontName="Helvetica-Bold", fontSize=16, leading=20)
SUB = ParagraphStyle("sub", parent=PLAIN, fontName="Helvetica-Bold", fontSize=10, leading=14, spaceBefore=8)
STOP = ParagraphStyle("stop", parent=PLAIN, fontName="Helvetica-Bold", textColor=colors.HexColor("#8a1210"))
STROKE = re.compile(r"([ML])(\d+) (\d+)")
CAUTION = (
    "Loading, spreading and tying the load are the driver's and the local code's to settle; two people lift what is "
    "heavy. Gear marked unfit does not travel to be used."
)


def as_pdf(sheet: Sheet, yard: YardSettings) -> bytes:
    out = io.BytesIO()
    paper = SimpleDocTemplate(
        out,
        pagesize=A4,
        title=f"Docket {sheet.docket.number}",
        author=yard.business_name,
        leftMargin=16 * mm,
        rightMargin=16 * mm,
        topMargin=14 * mm,
        bottomMargin=16 * mm,
    )
    paper.build([*_head(sheet, yard), *_warnings(sheet), *_lines(sheet), *_differences(sheet), *_foot(sheet)])
    return out.getvalue()


def _head(sheet: Sheet, yard: YardSettings) -> list[Any]:
    docket = sheet.docket
    facts = [
        ("From", str(docket.from_place), "To", str(docket.to_place)),
        ("Truck", docket.vehicle or "-", "Driver", docket.driver or "-"),
        ("Left", _moment(docket.left_at), "Arrived", _moment(docket.received_at)),
        ("Mass", f"{sheet.mass_kg:,.1f} kg", "Payload limit", _limit(docket.payload_limit_kg)),
    ]
    table = Table([[_text(cell) for cell in row] for row in facts], colWidths=[22 * mm, 67 * mm, 26 * mm, 63 * mm])
    table.setStyle(TableStyle([("LINEBELOW", (0, 0), (-1, -1), 0.3, colors.grey), ("VALIGN", (0, 0), (-1, -1), "TOP")]))
    words = {"out": "out to a site", "back": "back to the yard", "across": "across"}[docket.direction]
    title = f"{escape(yard.business_name)}: docket {docket.number}, {words}"
    return [Paragraph(title, HEAD), Spacer(0, 3 * mm), table]


def _limit(limit: int | None) -> str:
    return f"{limit:,} kg" if limit else "not given"


def _moment(when: datetime | None) -> str:
    return f"{timezone.localtime(when):%a %d %b %Y %H:%M}" if when else "-"


def _text(words: object, style: ParagraphStyle = PLAIN) -> Paragraph:
    return Paragraph(escape(str(words)), style)


def _warnings(sheet: Sheet) -> list[Any]:
    found = []
    if sheet.unfit:
        found.append(f"Unfit on this docket: {', '.join(piece.label for piece in sheet.unfit)}.")
    if sheet.over_kg:
        found.append(f"{sheet.over_kg:,.1f} kg over the payload limit given for this truck.")
    return [Spacer(0, 2 * mm), *(_text(words, STOP) for words in found)] if found else []


def _lines(sheet: Sheet) -> list[Any]:
    rows: list[list[Any]] = [[_text(w, SUB) for w in ("Type", "Wanted", "Loaded", "Arrived", "Mass kg", "Tags")]]
    rows += [_row(line) for line in sheet.lines]
    sums = ("Together", sheet.wanted or "", sheet.loaded, sheet.came, f"{sheet.mass_kg:,.1f}", "")
    rows.append([_text(w, SUB) for w in sums])
    table = Table(rows, colWidths=[46 * mm, 16 * mm, 16 * mm, 16 * mm, 18 * mm, 66 * mm], repeatRows=1)
    style = [("LINEBELOW", (0, 0), (-1, -1), 0.3, colors.grey), ("LINEBELOW", (0, 0), (-1, 0), 0.8, colors.black)]
    table.setStyle(TableStyle([*style, ("VALIGN", (0, 0), (-1, -1), "TOP")]))
    return [Spacer(0, 5 * mm), table]


def _row(line: Line) -> list[Any]:
    tags = " ".join(one.piece.label for one in line.pieces[:400])
    figures = (line.wanted or "", line.loaded, line.came, f"{line.mass_kg:,.1f}")
    return [_text(line.type.name), *(_text(figure) for figure in figures), _text(tags, SMALL)]


def _differences(sheet: Sheet) -> list[Any]:
    found = sheet.differences
    if not found:
        return []
    parts = [_text("Differences", SUB)]
    for one in found:
        missing = ", ".join(c.piece.label for c in one.not_arrived[:60])
        extra = ", ".join(c.piece.label for c in one.not_loaded[:60])
        words = f"{one.type.name}: {one.words}."
        words += f" Not arrived: {missing}." if missing else ""
        words += f" Came without having been loaded: {extra}." if extra else ""
        parts.append(_text(words))
    return parts


def _foot(sheet: Sheet) -> list[Any]:
    docket = sheet.docket
    sides = [
        ("Left, signed", docket.left_signed_by, docket.left_signature),
        ("Received, signed", docket.received_signed_by, docket.received_signature),
    ]
    cells = [[_text(head, SUB), signature(strokes), _text(name or "name:")] for head, name, strokes in sides]
    table = Table([cells], colWidths=[89 * mm, 89 * mm])
    return [Spacer(0, 6 * mm), KeepTogether([table, Spacer(0, 3 * mm), _text(CAUTION, SMALL)])]


def signature(strokes: str, width: float = 70 * mm) -> Drawing:
    """The drawn strokes (a box of 600 by 200) as vectors; an empty box with a line to sign on when there are none."""
    scale, height = width / 600, width / 3
    drawing = Drawing(width, height)
    line = Path(strokeColor=colors.grey, strokeWidth=0.4)
    line.moveTo(0, 4)
    line.lineTo(width, 4)
    drawing.add(line)
    path = Path(strokeColor=colors.black, strokeWidth=1, fillColor=None)
    for verb, x, y in STROKE.findall(strokes):
        (path.moveTo if verb == "M" else path.lineTo)(int(x) * scale, height - int(y) * scale)
    if strokes:
        drawing.add(path)
    return drawing
