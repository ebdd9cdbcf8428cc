"""Rows of a paper that run over pages, under their headings again: as a table, but linear in their number.

A table of the PDF library works out every row's style anew at every page it is split at: a bill of a thousand lines
then takes a minute. Here each row is laid out once and a page takes as many as fit.
"""

from __future__ import annotations

from typing import Any

from reportlab.lib import colors
from reportlab.platypus import Flowable, Paragraph

ACROSS, DOWN = 6, 3  # points between a rule and what stands in its cell, as the library's own tables have them


class Row(Flowable):
    """Cells side by side, with something below them over the whole width, and a rule of `rule` points beneath."""

    def __init__(self, cells: list[Paragraph], widths: list[float], below: Paragraph | None = None, rule: float = 0.3):
        super().__init__()
        self.cells, self.widths, self.below, self.rule = cells, widths, below, rule
        self.high = max(cell.wrap(width - 2 * ACROSS, 10_000)[1] for cell, width in zip(cells, widths, strict=True))
        self.low = below.wrap(sum(widths) - 2 * ACROSS, 10_000)[1] if below is not None else 0
        self.width, self.height = sum(widths), self.high + self.low + 2 * DOWN

    def wrap(self, *_room: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        left: float = ACROSS
        for cell, width in zip(self.cells, self.widths, strict=True):
            cell.drawOn(self.canv, left, self.height - DOWN - cell.height)
            left += width
        if self.below is not None:
            self.below.drawOn(self.canv, ACROSS, DOWN)
        self.canv.setStrokeColor(colors.black if self.rule > 0.5 else colors.grey)
        self.canv.setLineWidth(self.rule)
        self.canv.line(0, 0, self.width, 0)


class Rows(Flowable):
    """Rows under a heading, which stands again on every page."""

    def __init__(self, heading: Row, rows: list[Row]):
        super().__init__()
        self.heading, self.rows = heading, rows
        self.width, self.height = heading.width, heading.height + sum(one.height for one in rows)

    def wrap(self, *_room: float) -> tuple[float, float]:
        return self.width, self.height

    def split(self, _width: float, room: float) -> list[Any]:
        left, taken = room - self.heading.height, 0
        while taken < len(self.rows) and self.rows[taken].height <= left:
            left -= self.rows[taken].height
            taken += 1
        if not taken:
            return []
        return [Rows(self.heading, some) for some in (self.rows[:taken], self.rows[taken:]) if some]

    def draw(self) -> None:
        top = self.height
        for one in (self.heading, *self.rows):
            top -= one.height
            one.drawOn(self.canv, -ACROSS, top)  # the page's frame keeps as much free, and tables reach over it
