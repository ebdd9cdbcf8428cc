"""What one piece costs for the days it is charged: months, weeks and days, whole or in part.

Days are laid out in order as stretches of one share (stand-down, long-hire step). A unit costs its rate
times the mean share of the days in it, so a week at half share costs half a week. Whole months come first,
from the first day of the hire; then weeks; then odd days. Amounts are exact fractions of one piece's charge.
"""

from __future__ import annotations

from bisect import bisect_right
from calendar import monthrange
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
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


class Stretch(NamedTuple):
    """Charged days in a row at one share of the rate."""

    days: int
    share: Fraction


class Window(NamedTuple):
    """Days [first, until) at one share of the rate."""

    first: date
    until: date
    share: Fraction


@dataclass(frozen=True)
class Sheet:
    """The charged days of a hire in order."""

    windows: tuple[Window, ...]
    stretches: tuple[Stretch, ...]
    starts: tuple[int, ...]
    sums: tuple[Fraction, ...]
    days: int

    def weight(self, first: int, until: int) -> Fraction:
        """The sum of shares of days number `first` up to `until`, counted from 0."""
        return self._upto(until) - self._upto(first)

    def _upto(self, day: int) -> Fraction:
        place = bisect_right(self.starts, day) - 1
        if place < 0:
            return NIL
        return self.sums[place] + (day - self.starts[place]) * self.stretches[place].share

    def days_before(self, day: date, terms: Terms) -> int:
        """How many charged days lie before a date."""
        calendar = terms.calendar
        return sum(calendar.count(one.first, min(one.until, day)) for one in self.windows if one.first < day)


def lay_out(windows: list[Window], terms: Terms, days_before: int = 0) -> Sheet:
    """The sheet of some windows in order; `days_before` charged days of the same hire went before."""
    counted = [Stretch(terms.calendar.count(one.first, one.until), one.share) for one in windows]
    total = sum(one.days for one in counted)
    stretches = [one for one in _stepped(counted, terms, days_before, total) if one.days]
    starts, sums, day, sofar = [], [], 0, NIL
    for one in stretches:
        starts.append(day)
        sums.append(sofar)
        day += one.days
        sofar += one.days * one.share
    return Sheet(tuple(windows), tuple(stretches), tuple(starts), tuple(sums), total)


def _stepped(stretches: list[Stretch], terms: Terms, before: int, total: int) -> Iterator[Stretch]:
    if not terms.steps:
        yield from stretches
        return
    steps = sorted(terms.steps, key=lambda one: one.after_days)
    if terms.steps_for == "whole":
        reached = [one.share for one in steps if before + total > one.after_days]
        share = reached[-1] if reached else ALL
        yield from (Stretch(one.days, one.share * share) for one in stretches)
        return
    edges = [(one.after_days - before, one.share) for one in steps]
    day = 0
    for one in stretches:
        end = day + one.days
        while day < end:
            share = next((share for edge, share in reversed(edges) if edge <= day), ALL)
            stop = min([edge for edge, _ in edges if edge > day] + [end])
            stop = min(stop, end)
            yield Stretch(stop - day, one.share * share)
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


def price(sheet: Sheet, rate: Rate, terms: Terms, from_day: date) -> tuple[Part, ...]:
    """The parts that a piece is charged for the days of `sheet`; months are counted from `from_day`."""
    if not sheet.days:
        return ()
    day, week, month = (
        getattr(rate, unit) if rate.choose in ("cheapest", unit) else None for unit in ("day", "week", "month")
    )
    if month is None:
        return _smaller(sheet, 0, day, week, rate, terms)
    return _with_months(sheet, day, week, month, rate, terms, from_day)


def _with_months(
    sheet: Sheet, day: Decimal | None, week: Decimal | None, month: Decimal, rate: Rate, terms: Terms, start: date
) -> tuple[Part, ...]:
    best: tuple[Part, ...] | None = None
    parts: tuple[Part, ...] = ()
    done, opened = 0, start
    for closed in months_from(start, terms.month):
        if day is not None or week is not None:
            best = _cheaper(best, parts + _smaller(sheet, done, day, week, rate, terms))
        full = terms.calendar.count(opened, closed)
        reached = min(sheet.days, sheet.days_before(closed, terms))
        if reached > done:
            parts += (_month(sheet, done, reached, full, month, rate, day is None and week is None),)
        done, opened = reached, closed
        if done >= sheet.days:
            return _cheaper(best, parts)
    raise AssertionError("months run on for ever")


def _month(sheet: Sheet, first: int, until: int, full: int, month: Decimal, rate: Rate, alone: bool) -> Part:
    days, weight = until - first, sheet.weight(first, until)
    if alone and rate.odd_days == "pro_rata":
        return Part("month", Fraction(days, full), month, days, Fraction(month) * weight / full)
    return Part("month", Fraction(1), month, days, Fraction(month) * weight / days)


def _smaller(
    sheet: Sheet, done: int, day: Decimal | None, week: Decimal | None, rate: Rate, terms: Terms
) -> tuple[Part, ...]:
    """The cheapest of days alone, weeks and odd days, and a week more, from day number `done` on."""
    left = sheet.days - done
    if not left or (day is None and week is None):
        return ()
    weeks, odd = divmod(left, terms.week_days)
    whole = done + weeks * terms.week_days
    best: tuple[Part, ...] | None = None
    if day is not None:
        best = (_days(sheet, done, day),)
    if week is None:
        return best or ()
    full = _weeks(sheet, done, whole, week, terms) if weeks else ()
    if not odd:
        return _cheaper(best, full)
    if day is not None:
        best = _cheaper(best, (*full, _days(sheet, whole, day)))
    elif rate.odd_days == "pro_rata":
        return _weeks(sheet, done, sheet.days, week, terms)
    mean = sheet.weight(whole, sheet.days) / odd
    return _cheaper(best, (*full, Part("week", Fraction(1), week, odd, Fraction(week) * mean)))


def _days(sheet: Sheet, first: int, rate: Decimal) -> Part:
    days = sheet.days - first
    return Part("day", Fraction(days), rate, days, Fraction(rate) * sheet.weight(first, sheet.days))


def _weeks(sheet: Sheet, first: int, until: int, rate: Decimal, terms: Terms) -> tuple[Part, ...]:
    days = until - first
    amount = Fraction(rate) * sheet.weight(first, until) / terms.week_days
    return (Part("week", Fraction(days, terms.week_days), rate, days, amount),)


def _cheaper(one: tuple[Part, ...] | None, other: tuple[Part, ...]) -> tuple[Part, ...]:
    return other if one is None or total(other) < total(one) else one


def total(parts: tuple[Part, ...]) -> Fraction:
    """What the parts come to."""
    return sum((one.amount for one in parts), NIL)
