"""What runs need beside the edge forms, counted anew for each way they are composed.

Every piece carries a bracket and every joint a plate, so that runs composed anew may need a few more of them, or fewer.
A remedy is enough only if these are enough too for the very runs that it was worked out with.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from jobs.planning.answer import ComposedRun
from jobs.planning.remedies.articles import Article, Days

Codes = Mapping[str, Sequence[str]]


@dataclass(frozen=True)
class Counting:
    """`runs` are the type codes of each run by its side, as the check composed them, and `present` the articles they
    need. `count` gives every article that runs composed otherwise need; what is not composed counts at its least.
    `used_up` says of each article that any runs might need, by code, whether it is used up."""

    runs: Codes
    count: Callable[[Codes], tuple[Article, ...]]
    present: tuple[Article, ...] = ()
    used_up: Mapping[str, bool] = field(default_factory=dict)

    @cached_property
    def least(self) -> tuple[Article, ...]:
        """The least that any way to compose the runs needs."""
        return self.count({})

    @cached_property
    def least_of(self) -> Mapping[str, Article]:
        """The same by code."""
        return {article.code: article for article in self.least}

    def composed(self, runs: Sequence[ComposedRun]) -> tuple[Article, ...]:
        """With these runs composed anew and all others as they are."""
        return self.count({**self.runs, **codes_of(runs)})


def codes_of(runs: Sequence[ComposedRun]) -> dict[str, tuple[str, ...]]:
    """The type codes of each run from the seat, by its side.

    >>> codes_of([ComposedRun("P1", "A1/1", ("E-6000", "E-3000"))])
    {'A1/1': ('E-6000', 'E-3000')}
    """
    return {str(run.side): tuple(run.pieces) for run in runs}


def lacking(articles: Sequence[Article], days: Days) -> tuple[Article, ...]:
    """Those of which some day lacks any, with the pours on those days."""
    return tuple(article for article in articles if article.lack(days))
