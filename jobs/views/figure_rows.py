"""Charts of a table of figures: one for each of its columns that can be compared, of those rows of which it is said."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from inventory.figures.rates import Rate
from jobs.selectors.figures import Row
from jobs.views.figure_charts import Bar, bar_chart

MOST_BARS = 20


def charts_of(rows: Sequence[Row], by_words: str, currency: str) -> Iterator[tuple[str, str]]:
    """(caption, drawing) of each, the first rows only; the table above has all the numbers."""
    for words, unit, bar in _columns(currency):
        bars = [found for row in rows if (found := bar(row)) is not None][:MOST_BARS]
        if bars:
            yield f"{words}, by {by_words}; the table above has the numbers", bar_chart(bars, words, unit)


def _columns(currency: str) -> Iterator[tuple[str, str, Callable[[Row], Bar | None]]]:
    yield "Damage after 100 uses", "of 100 uses", lambda row: _rate(row, row.damage)
    yield "Loss after 100 uses", "of 100 uses", lambda row: _rate(row, row.loss)
    yield "Uses that half outlive", "uses", lambda row: _plain(row, _half(row))
    yield "Cost of a use", currency, lambda row: _plain(row, row.cost_per_use)
    yield "What one costs a year", currency, lambda row: _plain(row, row.a_year)
    yield "Time utilisation, by cost", "per cent", lambda row: _plain(row, row.used_percent)
    yield "Hire earned, of cost a year", "per cent", lambda row: _plain(row, row.financial_percent)
    yield "Margin", currency, lambda row: _plain(row, row.margin)


def _half(row: Row) -> int | None:
    return None if row.curve is None or row.curve.too_few else row.curve.median


def _rate(row: Row, rate: Rate) -> Bar | None:
    if rate.too_few:
        return None
    return Bar(row.label, rate.share * 100, rate.low * 100, rate.high * 100)


def _plain(row: Row, value: Any) -> Bar | None:
    return None if value is None else Bar(row.label, float(value))
