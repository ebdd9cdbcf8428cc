"""What a job needs beside the edge forms, article by article, and the cheapest offers that make up a lack of it.

One type does not stand in for another here, so that counting over time is exact: on a day an article lacks what
its pours need less what is on hand, and an offer makes up for that on the days it stands. Each offer stands on one
stretch of days, so the program's matrix has its ones in a row and its corners are whole (Fulkerson and Gross,
Incidence matrices and interval graphs, Pacific Journal of Mathematics 15, 1965): HiGHS's optimum is proved.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import accumulate

from jobs.planning.availability import Steps
from jobs.planning.goods import level
from jobs.planning.limits import Limits
from jobs.planning.program import INFINITE
from jobs.planning.remedies.extras import Taken
from jobs.planning.remedies.offers import Offer
from jobs.planning.remedies.solving import column_program, solved

Days = Mapping[str, tuple[date, date]]


@dataclass(frozen=True, slots=True)
class Article:
    """One type that pours need: how many each needs, by pour, and how many stand throughout (`standing`).

    Of what is `used_up` none comes back from a pour. `stock` is steps (day, count) on hand at the site; before the
    first there is none. It is below 0 by how many others have claimed that are not there.
    """

    code: str
    name: str
    by_pour: tuple[tuple[str, Decimal], ...]
    standing: Decimal
    used_up: bool
    stock: Steps

    @property
    def in_all(self) -> int:
        """As many as all pours together need."""
        return math.ceil(self.standing + sum(quantity for _, quantity in self.by_pour))

    def need(self, days: Days) -> Steps:
        """Steps (day, how many are needed) with the pours on those half-open days; pours without days need none.

        >>> five = Article("C", "clamp", (("P1", Decimal(4)), ("P2", Decimal(1))), Decimal(0), False, ())
        >>> spans = {"P1": (date(2027, 3, 1), date(2027, 3, 4)), "P2": (date(2027, 3, 2), date(2027, 3, 4))}
        >>> [(day.day, count) for day, count in five.need(spans)]
        [(1, 4), (2, 5), (4, 0)]
        """
        change: dict[date, Decimal] = defaultdict(Decimal)
        if self.standing and days:
            change[min(start for start, _ in days.values())] += self.standing
        for pour, quantity in self.by_pour:
            if pour in days:
                start, until = days[pour]
                change[start] += quantity
                if not self.used_up:
                    change[until] -= quantity
        dates = sorted(change)
        return tuple(zip(dates, map(math.ceil, accumulate(change[day] for day in dates)), strict=True))

    def lacks(self, days: Days, more: Sequence[date] = ()) -> list[tuple[date, int]]:
        """(day, how many are lacking) on every day that anything changes, `more` days with them; never under 0."""
        need = self.need(days)
        if not need:
            return []
        watched = {day for day, _ in need} | {day for day in (*(d for d, _ in self.stock), *more) if day > need[0][0]}
        wanted = [(day, level(need, day)) for day in sorted(watched)]
        return [(day, max(0, count - level(self.stock, day)) if count else 0) for day, count in wanted]

    def owed(self, days: Days) -> int:
        """How much of the lack is what others have claimed that is not there: the most on any day that needs any."""
        lacks = [(day, count) for day, count in self.lacks(days) if count]
        return max((-min(0, level(self.stock, day)) for day, _ in lacks), default=0)

    def lack(self, days: Days) -> int:
        """The greatest daily lack."""
        return max((count for _, count in self.lacks(days)), default=0)

    def days_needed(self, days: Days) -> list[date]:
        """The day the first one beyond the stock is needed, the second, and so on."""
        needed: list[date] = []
        for day, count in self.lacks(days):
            needed += [day] * (count - len(needed))
        return needed


def cheapest(article: Article, days: Days, offers: Sequence[Offer]) -> Taken:
    """The cheapest of the offers of this article with which it is never lacking: proved, one way or the other."""
    mine = [offer for offer in offers if offer.changes[0].code == article.code]
    edges = [day for offer in mine for change in offer.changes for day in (change.start, change.until) if day]
    rows = [(day, count) for day, count in article.lacks(days, edges) if count]
    if not rows:
        return Taken(True, True, {}, 0, 0)
    if any(sum(o.most * o.changes[0].on(day) for o in mine) < count for day, count in rows):
        return Taken(False, True, {}, 0, 0, without=(article.name,))
    taken = {offer.key: count for offer, count in zip(mine, _solved(mine, rows), strict=True) if count}
    price = sum(offer.price * taken.get(offer.key, 0) for offer in mine)
    return Taken(True, True, taken, price, price, needed={article.code: tuple(article.days_needed(days))})


def _solved(offers: Sequence[Offer], rows: Sequence[tuple[date, int]]) -> list[int]:
    columns = [{at: 1.0 for at, (day, _) in enumerate(rows) if offer.changes[0].on(day)} for offer in offers]
    costs, most = [float(offer.price) for offer in offers], [float(offer.most) for offer in offers]
    lp = column_program(columns, costs, most, [(float(count), INFINITE) for _, count in rows])
    return [round(value) for value in solved(lp, Limits(), [True] * len(offers)).getSolution().col_value]
