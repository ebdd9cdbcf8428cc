"""A minimum charge for a whole line, or for a delivery: what the gear falls short of it once all of it is back.

Common practice, no source. A line is the stays of one type that name one `line`; a delivery is all of them. What an
exchange for damage sent counts to the line or delivery that the hire began with, which is not over before it is back.
Lines are counted as rounded on the bill, so that the bill comes to exactly the minimum. Gear that is not charged for
time at all, such as what is charged by use alone, neither calls for a minimum nor counts to it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Literal, NamedTuple

from jobs.hire.book import Book, has_time_rate
from jobs.hire.lines import Entry
from jobs.hire.pricing import NIL
from jobs.hire.rounding import rounded
from jobs.hire.stays import Stay

Key = tuple[str, str, int]
Charged = dict[Key, list[Entry]]
Member = tuple[Key, Entry]


class Shortfall(NamedTuple):
    """What a line or delivery lacks: `least` by the terms numbered `terms`, `had` of it charged."""

    group: str
    terms: int
    least: Decimal
    had: Fraction
    members: tuple[Member, ...]

    @property
    def lacks(self) -> Fraction:
        """What makes it up."""
        return Fraction(self.least) - self.had

    @property
    def last_line(self) -> Key:
        """The line under the last terms, of its own group if there is one."""
        return max((key for key, _ in self.members), key=lambda key: (key[0] == self.group, key[2]))


def shortfalls(
    book: Book, charged: Charged, per: Literal["line", "delivery"], period_end: date, places: int
) -> Iterator[Shortfall]:
    """The lines, or the deliveries, that are over and came to less than the minimum of their last terms."""
    if not any(one.minimum.per == per and one.minimum.amount for one in book.versions):
        return
    groups: dict[tuple[str, str], list[Member]] = {}
    for key, entries in charged.items():
        for one in entries:
            if not has_time_rate(book.rate(key[2], one.stay)):
                continue
            began = book.chain(one.stay)[0].group
            groups.setdefault((began, key[1] if per == "line" else ""), []).append((key, one))
    for (group, _), members in groups.items():
        number = max(key[2] for key, _ in members)
        least = book.versions[number].minimum
        if least.per == per and _is_over(book, [one.stay for _, one in members], period_end):
            found = Shortfall(group, number, least.amount, _had(charged, members, places), tuple(members))
            if found.lacks > 0:
                yield found


def _had(charged: Charged, members: list[Member], places: int) -> Fraction:
    """What is charged already: whole lines as rounded, a share of another delivery's line exactly."""
    shares: dict[Key, list[Entry]] = {}
    for key, one in members:
        shares.setdefault(key, []).append(one)
    had = NIL
    for key, entries in shares.items():
        exact = sum((one.amount for one in entries), NIL)
        had += Fraction(rounded(exact, places)) if len(entries) == len(charged[key]) else exact
    return had


def _is_over(book: Book, stays: Iterable[Stay], period_end: date) -> bool:
    """Whether all of it is back, and what was sent in exchange for some of it too."""
    followed = {stay.id for stay in stays if stay.id in book.continued}
    followers = {stay.continues for stay in stays}
    spans = (book.span(stay, period_end) for stay in stays)
    return followed <= followers and all(span is not None and span.ended for span in spans)
