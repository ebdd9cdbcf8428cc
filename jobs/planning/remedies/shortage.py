"""Everything a job is short of, edge forms and other articles alike, and the cheapest offers that make up for it.

Forms of one section stand in for each other and are composed anew with what is offered; an article of any other
kind is counted. So the parts are independent: the cheapest for the whole is the cheapest for each.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from jobs.planning.limits import Limits
from jobs.planning.remedies.articles import Article, Days, cheapest
from jobs.planning.remedies.extras import Taken, least_price, together
from jobs.planning.remedies.offers import Offer, days_needed
from jobs.planning.request import CoverRequest

FORMS = "edge forms"


@dataclass(frozen=True)
class Shortage:
    """`forms` is the short part of the cover check's question, None where no form is lacking; `articles` are those
    that lack something, with the pours on `days`."""

    forms: CoverRequest | None = None
    articles: tuple[Article, ...] = ()
    days: Days = field(default_factory=dict)

    def least_price(self, offers: Sequence[Offer], limits: Limits, pools: Mapping[str, int] | None = None) -> Taken:
        """The cheapest offers with which nothing is lacking any more. Where there are none, `without` says of what."""
        counted = {article.code for article in self.articles}
        parts = [cheapest(article, self.days, offers) for article in self.articles]
        if self.forms is not None and self.forms.runs:
            mine = [offer for offer in offers if offer.changes[0].code not in counted]
            found = least_price(self.forms, mine, limits, pools)
            parts.append(found if found.turns else replace(found, without=(FORMS,)))
        failed = [part for part in parts if not part.turns]
        if failed:
            without = tuple(name for part in failed for name in part.without)
            return Taken(False, any(part.proved for part in failed), {}, 0, 0, without=without)
        return together(parts)

    def days_needed(self, found: Taken, code: str) -> list[date]:
        """With what was found taken, the day the first of a type beyond the stock is needed, the second, and so on."""
        for article in self.articles:
            if article.code == code:
                return article.days_needed(self.days)
        return days_needed(self.forms, found.runs, code) if self.forms else []

    def most_lacking(self) -> int:
        """More than this of one type is never of use."""
        forms = self.forms
        most = len(forms.runs) * forms.rules.max_pieces_per_run if forms else 0
        return max([most, *(article.lack(self.days) for article in self.articles)])


def first_day(shortage: Shortage, found: Taken, code: str, start: date) -> date:
    """The day the first of a type is needed that can be on site from `start`."""
    needed = shortage.days_needed(found, code)
    return max(start, needed[0]) if needed else start
