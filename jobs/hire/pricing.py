"""What one piece costs for the days it is charged: months, weeks and days, whole or in part.

Days are laid out in order as stretches of one share (stand-down, long-hire step). A unit costs its rate
times the mean share of the days in it, so a week at half share costs half a week. Whole months come first,
from the first day of the hire; then weeks; then odd days. Amounts are exact fractions of one piece's charge.
"""

from __future__ import annotations

from bisect import bisect_right
from calendar import monthrange
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from math import lcm
from typing import NamedTuple

from jobs.hire.terms import ALL, Rate, Terms

NIL = Fraction(0)


class Part(NamedTuple):
    """`units` of a rate for `days` charged days, costing `amount` a piece."""

    per: str
    units: Fraction
    rate: Decimal
    days: int
    amount: Fraction


class Window(NamedTuple):
    """Days [first, until) at one share of the rate."""

    first: date
    until: date
    share: Fraction


class Sheet(NamedTuple):
    """The charged days of a hire in order. Shares are whole numbers of 1/`scale`, for speed and exactness.

    `starts` holds the number of the first day of each stretch of one share, `sums` the shares of all days
    before it.
    """

    windows: tuple[Window, ...]
    starts: list[int]
    shares: list[int]
    sums: list[int]
    scale: int
    days: int

    def weight(self, first: int, until: int) -> int:
        """The sum of shares of days number `first` up to `until`, counted from 0."""
        if len(self.starts) == 1:
            return (until - first) * self.shares[0]
        return self._upto(until) - self._upto(first)

    def _upto(self, day: int) -> int:
        place = bisect_right(self.starts, day) - 1
        return self.sums[place] + (day - self.starts[place]) * self.shares[place]

    def days_before(self, day: date, terms: Terms) -> int:
        """How many charged days lie before a date."""
        if day >= self.windows[-1].until:
            return self.days
        calendar = terms.calendar
        return sum(calendar.count(one.first, min(one.until, day)) for one in self.windows if one.first < day)


def lay_out(windows: list[Window], terms: Terms, days_before: int = 0, steps: bool = True) -> Sheet:
    """The sheet of some windows in order, by the steps for long hire unless not `steps`.

    `days_before` charged days of the same hire went before.
    """
    counted = [(terms.calendar.count(one.first, one.until), one.share) for one in windows]
    days = sum(number for number, _ in counted)
    if terms.steps and steps:
        counted = list(_stepped(counted, terms, days_before, days))
    scale = lcm(*(share.denominator for _, share in counted))
    starts: list[int] = []
    shares: list[int] = []
    sums: list[int] = []
    day = sofar = 0
    for number, exact in counted:
        if number:
            share = exact.numerator * (scale // exact.denominator)
            if not shares or shares[-1] != share:
                starts.append(day)
                shares.append(share)
                sums.append(sofar)
            day += number
            sofar += number * share
    return Sheet(tuple(windows), starts, shares, sums, scale, days)


def _stepped(
    counted: list[tuple[int, Fraction]], terms: Terms, before: int, days: int
) -> Iterator[tuple[int, Fraction]]:
    """Days and shares again, cut where a long-hire step is reached."""
    if terms.steps_for == "whole":
        reached = [one.share for one in terms.steps if before + days > one.after_days]
        share = reached[-1] if reached else ALL
        yield from ((number, exact * share) for number, exact in counted)
        return
    edges = [(one.after_days - before, one.share) for one in terms.steps]
    day = 0
    for number, exact in counted:
        end = day + number
        while day < end:
            share = next((share for edge, share in reversed(edges) if edge <= day), ALL)
            stop = min([edge for edge, _ in edges if day < edge < end], default=end)
            yield stop - day, exact if share is ALL else exact * share
            day = stop


def months_from(first: date, month: str) -> Iterator[date]:
    """The first day of the second month of a hire, the third, and so on.

    A calendar month runs to the same date of the next month, or to its last day where it has no such date.
    """
    if month != "calendar":
        length = timedelta(days=int(month))
        while True:
            first += length
            yield first
    number = 0
    while True:
        number += 1
        yield add_months(first, number)


def add_months(day: date, months: int) -> date:
    """The same date `months` later, or the last of that month."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))


class _Run(NamedTuple):
    """Days number `first` to `until` under one rate, whose price is shared out over `over` days."""

    per: str
    first: int
    until: int
    over: int
    whole: bool


class _Card(NamedTuple):
    """A rate's prices in whole numbers of 1/`scale`; None where it has none or does not use it."""

    day: int | None
    week: int | None
    month: int | None
    scale: int


@lru_cache(maxsize=10_000)
def _card(day: Decimal | None, week: Decimal | None, month: Decimal | None, choose: str) -> _Card:
    prices = [
        None if price is None or choose not in ("cheapest", unit) else Fraction(price)
        for unit, price in (("day", day), ("week", week), ("month", month))
    ]
    scale = lcm(*(one.denominator for one in prices if one is not None))
    whole = [None if one is None else one.numerator * (scale // one.denominator) for one in prices]
    return _Card(whole[0], whole[1], whole[2], scale)


def price(sheet: Sheet, rate: Rate, terms: Terms, from_day: date) -> tuple[Part, ...]:
    """The parts that a piece is charged for the days of `sheet`; months are counted from `from_day`."""
    card = _card(rate.day, rate.week, rate.month, rate.choose)
    if not sheet.days or (card.day is None and card.week is None and card.month is None):
        return ()
    pro_rata = rate.odd_days == "pro_rata"
    search = _Search(sheet, card, terms.week_days, pro_rata)
    if card.month is None:
        search.offer((), 0)
    else:
        _with_months(search, terms, from_day)
    return tuple(search.part(one, rate) for one in search.best)


def _with_months(search: _Search, terms: Terms, start: date) -> None:
    """Offer the hire with no month from its start, with one, and so on until months cover it."""
    sheet, card = search.sheet, search.card
    alone = card.day is None and card.week is None
    months: tuple[_Run, ...] = ()
    done, opened = 0, start
    for closed in months_from(start, terms.month):
        if not alone:
            search.offer(months, done)
        reached = sheet.days_before(closed, terms)
        if reached > done:
            whole = not (alone and search.pro_rata)
            over = reached - done if whole else terms.calendar.count(opened, closed)
            months = (*months, _Run("month", done, reached, over, whole))
        done, opened = reached, closed
        if done >= sheet.days:
            search.consider(months)
            return


class _Search:
    """The cheapest runs found so far. Costs are compared as exact fractions in whole numbers."""

    def __init__(self, sheet: Sheet, card: _Card, week_days: int, pro_rata: bool) -> None:
        self.sheet, self.card, self.week_days, self.pro_rata = sheet, card, week_days, pro_rata
        self.best: tuple[_Run, ...] = ()
        self._cost: tuple[int, int] | None = None

    def offer(self, months: tuple[_Run, ...], done: int) -> None:
        """Consider days alone, weeks with odd days, and a week more, from day number `done` on."""
        card, days = self.card, self.sheet.days
        if card.day is not None:
            self.consider((*months, _Run("day", done, days, 1, False)))
        if card.week is None:
            return
        odd = (days - done) % self.week_days
        whole = days - odd
        if card.day is None and self.pro_rata:
            self.consider((*months, _Run("week", done, days, self.week_days, False)))
            return
        if whole > done:
            months = (*months, _Run("week", done, whole, self.week_days, False))
        if odd and card.day is not None and whole > done:
            self.consider((*months, _Run("day", whole, days, 1, False)))
        self.consider((*months, _Run("week", whole, days, odd, True)) if odd else months)

    def consider(self, runs: tuple[_Run, ...]) -> None:
        """Keep these runs if they cost less than the best so far."""
        cost, over = 0, 1
        for one in runs:
            part = self._price(one.per) * self.sheet.weight(one.first, one.until)
            cost, over = (
                (cost * one.over + part * over, over * one.over) if one.over != 1 else (cost + part * over, over)
            )
        if self._cost is None or cost * self._cost[1] < self._cost[0] * over:
            self.best, self._cost = runs, (cost, over)

    def _price(self, per: str) -> int:
        found = self.card.day if per == "day" else self.card.week if per == "week" else self.card.month
        assert found is not None
        return found

    def part(self, run: _Run, rate: Rate) -> Part:
        """A run as it is shown and added up."""
        days = run.until - run.first
        weight = self.sheet.weight(run.first, run.until)
        amount = Fraction(self._price(run.per) * weight, self.card.scale * self.sheet.scale * run.over)
        units = Fraction(1) if run.whole else Fraction(days, run.over)
        price = rate.day if run.per == "day" else rate.week if run.per == "week" else rate.month
        assert price is not None
        return Part(run.per, units, price, days, amount)


def total(parts: tuple[Part, ...]) -> Fraction:
    """What the parts come to."""
    return parts[0].amount if len(parts) == 1 else sum((one.amount for one in parts), NIL)
