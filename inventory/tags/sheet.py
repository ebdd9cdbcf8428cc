"""Where labels stand on a sheet: page, margins, rows, columns and gaps, all in millimetres.

Lengths are Decimal, since sheets are sold in tenths of a millimetre (A4 in four columns is 52.5 mm wide). Places are
counted from the top left of the page, along the row, then down. A single label is a sheet of one row and one column.

>>> faults(A4_40)
[]
>>> place_of(A4_40, 41)
Place(page=1, left=Decimal('52.5'), top=Decimal('0.0'))
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

LEAST_QR_MM = Decimal(12)
"""A version 3 code with its quiet zone has 37 modules; 12 mm makes them 0.32 mm, about four dots at 300 dpi.

Four printer dots to a module is the recommendation of the code's inventor (repeated here from general knowledge)."""
QUIET_MM = Decimal("1.5")


@dataclass(frozen=True, slots=True)
class Sheet:
    """One page of labels. `label_*` is a single label; gaps lie between labels, margins before the first."""

    page_width: Decimal
    page_height: Decimal
    columns: int
    rows: int
    label_width: Decimal
    label_height: Decimal
    margin_left: Decimal = Decimal(0)
    margin_top: Decimal = Decimal(0)
    gap_across: Decimal = Decimal(0)
    gap_down: Decimal = Decimal(0)

    @property
    def per_page(self) -> int:
        return self.columns * self.rows

    @property
    def used_width(self) -> Decimal:
        return self.margin_left + self.columns * self.label_width + (self.columns - 1) * self.gap_across

    @property
    def used_height(self) -> Decimal:
        return self.margin_top + self.rows * self.label_height + (self.rows - 1) * self.gap_down


class Place(NamedTuple):
    """Page from 0, and the top left corner of the label from the top left corner of the page, in mm."""

    page: int
    left: Decimal
    top: Decimal


def faults(sheet: Sheet) -> list[str]:
    """Everything that keeps labels from being printed on this sheet, as sentences; empty when it will do."""
    found = [*_counts_at_fault(sheet), *_lengths_at_fault(sheet)]
    if found:
        return found
    if sheet.used_width > sheet.page_width:
        found.append(_too_much("across", sheet.used_width, sheet.page_width, "columns, gap or left margin"))
    if sheet.used_height > sheet.page_height:
        found.append(_too_much("down", sheet.used_height, sheet.page_height, "rows, gap or top margin"))
    return found


def _counts_at_fault(sheet: Sheet) -> Iterator[str]:
    if not 1 <= sheet.columns <= 50:
        yield "A sheet has 1 to 50 columns."
    if not 1 <= sheet.rows <= 100:
        yield "A sheet has 1 to 100 rows."


def _lengths_at_fault(sheet: Sheet) -> Iterator[str]:
    if min(sheet.margin_left, sheet.margin_top, sheet.gap_across, sheet.gap_down) < 0:
        yield "Margins and gaps cannot be negative."
    if max(sheet.page_width, sheet.page_height) > 1200:
        yield "A page is at most 1,200 mm on a side."
    if code_side(sheet) < LEAST_QR_MM:
        yield (
            f"A label of {sheet.label_width} x {sheet.label_height} mm is too small: its code would be "
            f"{code_side(sheet)} mm, and a phone needs at least {LEAST_QR_MM} mm. Take larger labels."
        )


def _too_much(way: str, used: Decimal, has: Decimal, what: str) -> str:
    return f"The labels take {used} mm {way} and the page has {has} mm: take fewer or smaller {what}."


def code_side(sheet: Sheet) -> Decimal:
    """Side of the QR square with its quiet zone, mm: the label's height, but never more than half its width or so.

    A label about as tall as it is wide carries its text under the code, so the code may take two thirds of it.
    """
    width, height = sheet.label_width - 2 * QUIET_MM, sheet.label_height - 2 * QUIET_MM
    return min(width, height * 2 / 3) if stands_upright(sheet) else min(height, width / 2)


def stands_upright(sheet: Sheet) -> bool:
    """Is the text under the code rather than beside it?"""
    return sheet.label_width * 4 < sheet.label_height * 5


def place_of(sheet: Sheet, number: int) -> Place:
    """Where label `number` (from 0) stands; the next page begins when one is full."""
    page, on_page = divmod(number, sheet.per_page)
    row, column = divmod(on_page, sheet.columns)
    return Place(
        page,
        sheet.margin_left + column * (sheet.label_width + sheet.gap_across),
        sheet.margin_top + row * (sheet.label_height + sheet.gap_down),
    )


def _a4(columns: int, rows: int, *lengths: str) -> Sheet:
    """Lengths: label width and height, margin left and top, gap across."""
    return Sheet(Decimal(210), Decimal(297), columns, rows, *(Decimal(length) for length in lengths))


A4_40 = _a4(4, 10, "52.5", "29.7", "0", "0")
A4_24 = _a4(3, 8, "70", "37", "0", "0.5")
A4_21 = _a4(3, 7, "63.5", "38.1", "7.2", "15.1", "2.5")
A4_8 = _a4(2, 4, "99.1", "67.7", "4.6", "13.1", "2.6")
SINGLE_100_50 = Sheet(Decimal(100), Decimal(50), 1, 1, Decimal(100), Decimal(50))
SINGLE_50_50 = Sheet(Decimal(50), Decimal(50), 1, 1, Decimal(50), Decimal(50))

USUAL = {
    "a4-40": ("A4, 4 x 10 labels of 52.5 x 29.7 mm, held in the hand", A4_40),
    "a4-24": ("A4, 3 x 8 labels of 70 x 37 mm", A4_24),
    "a4-21": ("A4, 3 x 7 labels of 63.5 x 38.1 mm", A4_21),
    "a4-8": ("A4, 2 x 4 labels of 99.1 x 67.7 mm, read at arm's length", A4_8),
    "single-100-50": ("Label printer, single labels of 100 x 50 mm", SINGLE_100_50),
    "single-50-50": ("Label printer, single labels of 50 x 50 mm", SINGLE_50_50),
}
"""Sheets that are usually on sale (common practice, no source); any other is entered by its measures."""
