"""A bill, credit note or draft on A4."""

from __future__ import annotations

import io
import unicodedata
from datetime import timedelta
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Image, KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle

from jobs.hire.invoice.codes import CATEGORY_WORDS
from jobs.hire.words import day_words, plain
from jobs.models import Bill, BillLine
from jobs.selectors.bill_sheet import BillSheet, Section, Shown
from jobs.selectors.invoices import corrected
from jobs.views.paper_rows import Row, Rows

WIDTH = 178 * mm
PLAIN = ParagraphStyle("plain", fontName="Helvetica", fontSize=9, leading=11.5)
RIGHT = ParagraphStyle("right", parent=PLAIN, alignment=TA_RIGHT)
SMALL = ParagraphStyle("small", parent=PLAIN, fontSize=7.5, leading=9.5, textColor=colors.HexColor("#333333"))
BOLD = ParagraphStyle("bold", parent=PLAIN, fontName="Helvetica-Bold")
BOLD_RIGHT = ParagraphStyle("bold-right", parent=BOLD, alignment=TA_RIGHT)
HEAD = ParagraphStyle("head", parent=BOLD, fontSize=16, leading=20)
SUB = ParagraphStyle("sub", parent=BOLD, fontSize=10.5, leading=14, spaceBefore=9, spaceAfter=2)
HAIR = ("LINEBELOW", (0, 0), (-1, -1), 0.3, colors.grey)
RULE = ("LINEBELOW", (0, 0), (-1, 0), 0.8, colors.black)
TOP = ("VALIGN", (0, 0), (-1, -1), "TOP")
MOST_WHY = 1200
LINE = [95 * mm, 34 * mm, 25 * mm, 24 * mm]
STROKED = str.maketrans("łŁđĐħĦıŧŦ", "lLdDhHitT")  # letters that do not come apart into a plain one and its mark
PHOTO = (84 * mm, 63 * mm)


def as_pdf(sheet: BillSheet) -> bytes:
    """The same bytes for the same bill, whenever it is made."""
    bill, out = sheet.bill, io.BytesIO()
    paper = SimpleDocTemplate(
        out,
        pagesize=A4,
        title=title_of(bill),
        author=bill.seller.get("name", ""),
        lang="en-GB",
        invariant=1,
        leftMargin=16 * mm,
        rightMargin=16 * mm,
        topMargin=16 * mm,
        bottomMargin=18 * mm,
    )
    paper.build(
        [*_head(bill), *_facts(bill), *_lines(sheet), *_types(sheet), *_totals(sheet), *_pay(sheet), *_photos(sheet)],
        canvasmaker=_numbered(title_of(bill), bill.seller.get("name", "")),
    )
    return out.getvalue()


def title_of(bill: Bill) -> str:
    """ "Bill B-00012", "Credit note C-00001" or "Draft bill"."""
    kind = "Credit note" if bill.is_credit_note else "Bill"
    return f"{kind} {bill.number}" if bill.number else f"Draft {kind.lower()}, not a demand for payment"


def _numbered(title: str, seller: str) -> type[Canvas]:
    """A canvas that knows at the end how many pages there are."""

    class Numbered(Canvas):
        def __init__(self, *given: Any, **named: Any) -> None:
            super().__init__(*given, **named)
            self._kept: list[dict[str, Any]] = []

        def showPage(self) -> None:
            self._kept.append(dict(self.__dict__))
            self._startPage()  # type: ignore[attr-defined]

        def save(self) -> None:
            for number, state in enumerate(self._kept, 1):
                self.__dict__.update(state)
                self._foot(number)
                super().showPage()
            super().save()

        def _foot(self, number: int) -> None:
            self.setFont("Helvetica", 7.5)
            self.drawString(16 * mm, 10 * mm, _shown(f"{seller}   {title}"))
            self.drawRightString(194 * mm, 10 * mm, f"Page {number} of {len(self._kept)}")

    return Numbered


def _shown(words: object) -> str:
    """The built-in fonts know western European letters; of others the plain letter is shown, else a question mark.

    >>> _shown("Wrocław, Plzeň, Façade ≠")
    'Wroclaw, Plzen, Façade ?'
    """
    return "".join(one if _has(one) else _plainest(one) for one in str(words).translate(STROKED))


def _has(letter: str) -> bool:
    try:
        return bool(letter.encode("cp1252"))
    except UnicodeEncodeError:
        return False


def _plainest(letter: str) -> str:
    """Letters only: a sign without its stroke would say the opposite."""
    parts = unicodedata.normalize("NFKD", letter) if letter.isalpha() else ""
    return "".join(one for one in parts if _has(one)) or "?"


def _text(words: object, style: ParagraphStyle = PLAIN) -> Paragraph:
    return Paragraph(escape(_shown(words)), style)


def _table(rows: list[list[Any]], widths: list[float], *style: Any, repeat: int = 0) -> Table:
    table = Table(rows, colWidths=[one * mm for one in widths], repeatRows=repeat)
    table.setStyle(TableStyle([TOP, *style]))
    return table


# Who, to whom, for what


def _head(bill: Bill) -> list[Any]:
    sides = [_block("From", bill.seller), _block("To", bill.buyer)]
    return [Paragraph(escape(_shown(title_of(bill))), HEAD), Spacer(0, 4 * mm), _table([sides], [89, 89])]


def _block(word: str, party: dict[str, Any]) -> list[Paragraph]:
    town = " ".join(one for one in (party.get("postcode"), party.get("city")) if one)
    lines = [
        party.get("street"),
        party.get("street_more"),
        ", ".join(one for one in (town, party.get("region"), party.get("country_code")) if one),
        party.get("tax_id") and f"Tax number {party['tax_id']}",
        party.get("registration_id") and f"Company number {party['registration_id']}",
        party.get("email"),
        party.get("phone"),
    ]
    return [_text(word, SMALL), _text(party.get("name") or "-", BOLD), *(_text(one) for one in lines if one)]


def _facts(bill: Bill) -> list[Any]:
    last = bill.period_until - timedelta(days=1)
    facts = [
        ("Number", bill.number or "none yet", "Date", day_words(bill.issued_on) if bill.issued_on else "not issued"),
        ("For", f"{day_words(bill.period_from)} to {day_words(last)}", "Pay by", _due(bill)),
        ("Job", f"{bill.job.code} {bill.job.name}", "Your reference", bill.buyer.get("reference") or "-"),
    ]
    refers = ", ".join(one.number or "" for one in corrected(bill))
    if refers:
        words = "Gives back" if bill.credits_id else "Adjusts"
        facts.append((words, refers, "Why" if bill.reason else "", bill.reason))
    rows = [[_text(one[0], SMALL), _text(one[1]), _text(one[2], SMALL), _text(one[3])] for one in facts]
    return [Spacer(0, 4 * mm), _table(rows, [22, 77, 25, 54], HAIR)]


def _due(bill: Bill) -> str:
    if bill.is_credit_note or bill.due_on is None:
        return "nothing to pay" if bill.is_credit_note else "-"
    return day_words(bill.due_on)


# Lines


def _lines(sheet: BillSheet) -> list[Any]:
    parts: list[Any] = []
    for section in sheet.sections:
        parts += _section(sheet, section)
    return parts


def _section(sheet: BillSheet, section: Section) -> list[Any]:
    title = f"Docket {section.docket}" if section.docket else "Without a docket"
    heading = Row(_headings(title, "How many", "Rate", f"Net {sheet.bill.currency}"), LINE, rule=0.8)
    rows = [Row(_row(sheet, line), LINE, _text(_short(line), SMALL)) for line in section.rows]
    together = [_text(f"{title} together", BOLD), _text(""), _text(""), _text(sheet.money(section.net), BOLD_RIGHT)]
    return [Spacer(0, 6 * mm), Rows(heading, [*rows, Row(together, LINE)])]


def _headings(first: str, *others: str) -> list[Any]:
    return [_text(first, BOLD), *(_text(one, BOLD_RIGHT) for one in others)]


def _row(sheet: BillSheet, line: BillLine) -> list[Any]:
    figures = (how_many(line), rate_words(line, sheet.places), sheet.money(line.net))
    return [_text(f"{line.position}  {line.description}"), *(_text(one, RIGHT) for one in figures)]


def how_many(line: BillLine) -> str:
    """ "40 x 14 days", or "2"; nothing for an adjustment, which is what is left of more than one bill.

    "In all" says that some of it was billed before, so that the line is what is left.
    """
    if line.part == BillLine.Part.ADJUSTMENT:
        return ""
    days = f" x {line.days} days" if line.days is not None else ""
    return f"{plain(line.quantity)}{days}{' in all' if line.billed_before else ''}"


def rate_words(line: BillLine, places: int) -> str:
    """ "2.10 a week": at least the currency's decimals, and as many as the rate has."""
    if line.rate is None:
        return ""
    have = len(plain(line.rate).partition(".")[2])
    per = {"day": "a day", "week": "a week", "month": "a month", "use": "a use", "delivery": "at least"}.get(
        line.per, "each"
    )
    return f"{line.rate:,.{max(have, places)}f} {per}"


def _short(line: BillLine) -> str:
    tax = f" Tax {plain(line.tax_rate)} per cent." if line.tax_rate else ""
    why = line.why if len(line.why) <= MOST_WHY else f"{line.why[:MOST_WHY]} ... (the rest stands on the bill's page)"
    return f"{why}{tax}"


# Totals


def _types(sheet: BillSheet) -> list[Any]:
    rows: list[list[Any]] = [_headings("By type", "Hire", "Other", "Net")]
    for one in sheet.by_type:
        name = f"{one.code} {one.name}" if one.code else "No type of gear"
        rows.append([_text(name), *(_text(sheet.money(sum_), RIGHT) for sum_ in (one.hire, one.other, one.net))])
    return [Spacer(0, 6 * mm), _table(rows, [100, 26, 26, 26], HAIR, RULE, repeat=1)]


def _totals(sheet: BillSheet) -> list[Any]:
    bill = sheet.bill
    rows = [[_text("Net"), "", _text(sheet.money(bill.net), RIGHT)]]
    for one in sheet.taxes:
        words = CATEGORY_WORDS.get(one.category, one.category)
        of = f"{plain(one.rate)} per cent of {sheet.money(one.base)}, {words}"
        rows.append([_text("Tax"), _text(of), _text(sheet.money(one.amount), RIGHT)])
    word = "To your credit" if bill.is_credit_note else "To pay"
    rows.append([_text(word, BOLD), "", _text(f"{bill.currency} {sheet.money(abs(bill.gross))}", BOLD_RIGHT)])
    rule = ("LINEABOVE", (0, -1), (-1, -1), 0.8, colors.black)
    return [Spacer(0, 6 * mm), KeepTogether([_table(rows, [30, 108, 40], HAIR, rule)])]


def _pay(sheet: BillSheet) -> list[Any]:
    seller = sheet.bill.seller
    account = [
        f"{word} {seller[name]}"
        for word, name in (("Account", "account_number"), ("of", "account_name"), ("bank", "bank_code"))
        if seller.get(name)
    ]
    said = [_text(", ".join(account))] if account and not sheet.bill.is_credit_note else []
    if seller.get("payment_note"):
        said.append(_text(seller["payment_note"], SMALL))
    return [Spacer(0, 4 * mm), *said] if said else []


# Photos


def _photos(sheet: BillSheet) -> list[Any]:
    if not sheet.photos:
        return []
    cells = [_photo(one) for one in sheet.photos]
    rows = [[*cells[place : place + 2], ""][:2] for place in range(0, len(cells), 2)]
    first = KeepTogether([_text("Photos of the damage charged", SUB), _table(rows[:1], [89, 89])])
    return [Spacer(0, 6 * mm), first, *([_table(rows[1:], [89, 89])] if rows[1:] else [])]


def _photo(shown: Shown) -> list[Any]:
    taken = shown.photo.taken_at or shown.photo.stored_at
    caption = _text(f"Line {shown.line.position}: {shown.line.description}; {day_words(taken)}", SMALL)
    picture = _picture(shown)
    return [picture or _text("The photo's file is no longer kept.", SMALL), caption, Spacer(0, 3 * mm)]


def _picture(shown: Shown) -> Image | None:
    try:
        with shown.photo.image.open("rb") as file:
            picture = Image(io.BytesIO(file.read()))
    except OSError:
        return None
    scale = min(PHOTO[0] / picture.imageWidth, PHOTO[1] / picture.imageHeight)
    picture.drawWidth, picture.drawHeight = picture.imageWidth * scale, picture.imageHeight * scale
    picture.hAlign = "LEFT"
    return picture
