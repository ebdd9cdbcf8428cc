"""Everything a job is short of, edge forms and other articles alike, and the cheapest offers that make up for it.

Forms of one section stand in for each other and are composed anew with what is offered; an article of any other
kind is then counted for the runs so composed. How many brackets and plates these need hangs on their pieces and joints,
so that the cheapest for each part is proved the cheapest for the whole only where no other way to compose the runs
needs fewer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from jobs.planning.limits import Limits
from jobs.planning.remedies.articles import Article, Days, cheapest
from jobs.planning.remedies.composing import fewest_joints
from jobs.planning.remedies.counting import Counting, lacking
from jobs.planning.remedies.extras import Taken, least_price, together
from jobs.planning.remedies.offers import Offer, days_needed, with_taken
from jobs.planning.request import CoverRequest

FORMS = "edge forms"


@dataclass(frozen=True)
class Shortage:
    """`forms` is the short part of the cover check's question, None where no form is lacking; `articles` are those
    that lack something, with the pours on `days`. `counting` counts them anew for runs composed anew."""

    forms: CoverRequest | None = None
    articles: tuple[Article, ...] = ()
    days: Days = field(default_factory=dict)
    counting: Counting | None = None

    def least_price(self, offers: Sequence[Offer], limits: Limits, pools: Mapping[str, int] | None = None) -> Taken:
        """The cheapest offers with which nothing is lacking any more. Where there are none, `without` says of what.

        Runs composed anew may need other articles than those of the check: these are made up for as well.
        """
        if self.forms is None or not self.forms.runs:
            return self._with_articles(None, self.articles, offers)
        codes = {piece.code for piece in self.forms.pieces}
        mine = [offer for offer in offers if offer.changes[0].code in codes]
        forms = least_price(self.forms, mine, limits.within(0.8), pools)
        if not forms.turns or self.counting is None:
            forms = forms if forms.turns else replace(forms, without=(FORMS,))
            return self._with_articles(forms, self.articles, offers)
        articles = lacking(self.counting.composed(forms.runs), self.days)
        found = self._with_articles(forms, articles, offers)
        if any(self._least(article).lack(self.days) < article.lack(self.days) for article in articles):
            other = self._of_fewer_joints(forms, mine, offers, limits)
            found = min(found, *other, key=lambda each: (not each.turns, each.price)) if other else found
        return found

    def _with_articles(self, forms: Taken | None, articles: Sequence[Article], offers: Sequence[Offer]) -> Taken:
        parts = [self._made_up(article, offers) for article in articles]
        parts += [forms] if forms is not None else []
        failed = [part for part in parts if not part.turns]
        if failed:
            without = tuple(name for part in failed for name in part.without)
            return Taken(False, any(part.proved for part in failed), {}, 0, 0, without=without)
        return together(parts)

    def _made_up(self, article: Article, offers: Sequence[Offer]) -> Taken:
        """The cheapest for one article; proved only if no way to compose the runs could do with less."""
        found = cheapest(article, self.days, offers)
        least = self._least(article)
        if least == article:
            return found
        bound = cheapest(least, self.days, offers)
        if not found.turns:
            return replace(found, proved=not bound.turns)
        return replace(found, proved=found.price <= bound.price, bound=min(bound.price, found.price))

    def _least(self, article: Article) -> Article:
        return article if self.counting is None else self.counting.least_of.get(article.code, article)

    def _of_fewer_joints(
        self, forms: Taken, mine: Sequence[Offer], offers: Sequence[Offer], limits: Limits
    ) -> list[Taken]:
        """The same forms put together with fewer joints, where they can be: that wants fewer brackets and plates."""
        if self.forms is None or self.counting is None:
            return []
        answer = fewest_joints(with_taken(self.forms, mine, forms.taken), limits.within(0.5))
        if not answer.covered:
            return []
        articles = lacking(self.counting.composed(answer.runs), self.days)
        return [self._with_articles(replace(forms, runs=answer.runs), articles, offers)]

    def days_needed(self, found: Taken, code: str) -> list[date]:
        """With what was found taken, the day the first of a type beyond the stock is needed, the second, and so on."""
        if code in found.needed:
            return list(found.needed[code])
        return days_needed(self.forms, found.runs, code) if self.forms else []

    def most_lacking(self) -> int:
        """More than this of one type is never of use."""
        forms = self.forms
        most = len(forms.runs) * forms.rules.max_pieces_per_run if forms else 0
        articles = self.articles if self.counting is None else self.counting.present
        # Composed anew the runs may need more of them, hardly twice as many.
        return max([most, *(2 * article.in_all for article in articles)])


def first_day(shortage: Shortage, found: Taken, code: str, start: date) -> date:
    """The day the first of a type is needed that can be on site from `start`."""
    needed = shortage.days_needed(found, code)
    return max(start, needed[0]) if needed else start
