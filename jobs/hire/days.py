"""Which days of a stay are charged: from what starts it to what ends it, by whole days.

A span is half-open days [first, until). The day out and the day back count as the terms say, or, where a
cut-off hour is stated and the hour is known, as the hour decides. Out and back on one day is one day
if either counts. Days between are all in the span; which of them are charged is the terms' calendar.

>>> stay = Stay("S1", "EF-3000", 40, date(2026, 3, 2), date(2026, 3, 16))
>>> span = hire_span(stay, Terms(), Terms(), date(2026, 4, 1))
>>> (span.until - span.first).days
14
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import NamedTuple

from jobs.hire.stays import Stay, When, day_of
from jobs.hire.terms import NOTHING, Terms

DAY = timedelta(days=1)


class Span(NamedTuple):
    """The days a stay is on hire, cut at the period's end; `tail` runs on from a loss until it is settled
    at `tail_share`, by the terms of the day of the loss."""

    first: date
    until: date
    ended: bool
    tail: date
    tail_share: Fraction = NOTHING

    @property
    def key(self) -> tuple[object, ...]:
        """What tells it from another; the share is left out where it does not matter, being slow to hash."""
        share = self.tail_share if self.tail > self.until else None
        return (self.first, self.until, self.ended, self.tail, share)


def start_of(stay: Stay, terms: Terms) -> When:
    """What starts hire: leaving the yard, or being received if the terms say so and it is recorded."""
    return stay.received or stay.out if terms.starts == "received" else stay.out


def end_of(stay: Stay, terms: Terms) -> When | None:
    """What ends hire, None while it runs.

    With off-hire terms that is the first of the off-hire date, the collection and the yard's count; with
    collection, the first of that and the count. Off-hire notice runs on from there.
    """
    candidates: list[When | None] = [stay.back]
    if terms.ends == "collected":
        candidates = [stay.collected, stay.back]
    elif terms.ends == "off_hire":
        candidates = [stay.off_hire, stay.collected, stay.back]
    dated = [one for one in candidates if one is not None]
    if not dated:
        return None
    ended = min(dated, key=lambda one: day_of(one, terms.zone))
    return _after_notice(ended, terms) if terms.ends == "off_hire" else ended


def _after_notice(ended: When, terms: Terms) -> When:
    days = terms.off_hire_notice_days
    if not days:
        return ended
    if terms.off_hire_notice == "working":
        return terms.calendar.add(day_of(ended, terms.zone), days)
    return day_of(ended, terms.zone) + days * DAY


def first_day(start: When, terms: Terms) -> date:
    """The first day that counts."""
    day = day_of(start, terms.zone)
    return day if _day_out_counts(start, terms) else day + DAY


def _day_out_counts(start: When, terms: Terms) -> bool:
    if terms.cut_off_out is not None and isinstance(start, datetime):
        return _wall(start, terms).time() < terms.cut_off_out
    return terms.days_charged in ("out", "both")


def _day_back_counts(end: When, terms: Terms) -> bool:
    if terms.cut_off_back is not None and isinstance(end, datetime):
        return _wall(end, terms).time() > terms.cut_off_back
    return terms.days_charged in ("back", "both")


def _wall(moment: datetime, terms: Terms) -> datetime:
    return moment.astimezone(terms.zone) if terms.zone else moment


def hire_span(stay: Stay, opening: Terms, closing: Terms, period_end: date) -> Span | None:
    """The span of a stay up to `period_end` (first day not billed), None if it starts on or after that.

    `opening` and `closing` are the terms that hold when it starts and when it ends.
    """
    start = start_of(stay, opening)
    if day_of(start, opening.zone) >= period_end:
        return None
    first = first_day(start, opening)
    end = end_of(stay, closing)
    if end is None or day_of(end, closing.zone) >= period_end:
        return Span(first, max(first, period_end), False, max(first, period_end))
    last = day_of(end, closing.zone)
    until = last + DAY if _day_back_counts(end, closing) else last
    if last <= day_of(start, opening.zone):
        counts = _day_out_counts(start, opening) or _day_back_counts(end, closing)
        first, until = last, last + DAY if counts else last
    until = max(first, until)
    tail = max(until, _tail_end(stay, closing, period_end))
    return Span(first, until, True, tail, closing.loss.until_settled)


def _tail_end(stay: Stay, terms: Terms, period_end: date) -> date:
    if stay.end != "lost" or terms.loss.until_settled == NOTHING:
        return date.min
    return period_end if stay.settled is None else min(period_end, day_of(stay.settled, terms.zone))
