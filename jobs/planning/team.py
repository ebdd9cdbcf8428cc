"""The sections of one check searched by one hand, alone or with another beside that begins at the other end.

A hand goes through the sections in its order; what it finds goes over the line to the other, and what the other
finds is taken in a few times a second. Without a line it is alone.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from functools import partial

from jobs.planning.limits import Limits
from jobs.planning.line import Line
from jobs.planning.model import Section
from jobs.planning.search import SectionSearch
from jobs.planning.standing import SectionPlan
from jobs.planning.turns import Place

_LISTEN_EVERY = 0.02
_WAIT = 0.05
_LITTLE = 0.0007


class Hand:
    """One hand: `number` 0 goes forward, 1 backward. `limits` are those of the whole check."""

    def __init__(
        self, sections: Sequence[Section], ask: str, limits: Limits, line: Line | None = None, number: int = 0
    ) -> None:
        self.line, self.limits, self.ask = line, limits, ask
        self.work = [sum(len(group.choices) for group in section.groups) for section in sections]
        self.hands = 1 if line is None else 2
        place = Place(number, self.hands, together=sum(map(bool, self.work)) == 1)
        self.searches = [
            SectionSearch(section, self._part(at), place) if section.groups else None
            for at, section in enumerate(sections)
        ]
        self.order = [at for at, search in enumerate(self.searches) if search is not None][:: -1 if number else 1]
        self.listened = float("-inf")
        for at, search in enumerate(self.searches):
            if search is not None:
                search.spare = partial(self._spare, at)
        for at in self.order if line is not None else []:
            search = self.searches[at]
            if search is not None and line is not None:
                search.standing.tell = partial(line.tell, at)
                search.listen = self.listen

    def plans(self) -> list[SectionPlan | None]:
        """The best plan of each section once all is proved, all turns are taken or time is up; None for one
        without groups."""
        for place, at in enumerate(self.order):
            search = self._search(at)
            if self._answered() or (self.ask != "covered" and search.standing.heard_of):
                break
            whole, rest = search.limits, sum(self.work[other] for other in self.order[place:])
            search.limits = whole.within(min(1.0, self.hands * self.work[at] / rest))
            if self.ask == "covered":
                search.covered()
            elif not search.good:
                search.best()
            search.limits = whole
        if self.ask != "covered":
            self._go_on()
        self._await_the_other()
        return [None if search is None else search.plan for search in self.searches]

    def _go_on(self) -> None:
        """A turn for each section in which something is left to find, round and round."""
        while not self._answered() and not self.limits.over():
            open_ones = [at for at in self.order if not self._search(at).good and self._search(at).more]
            if not open_ones:
                break
            for at in open_ones:
                self._search(at).best(turns=1)

    def _search(self, at: int) -> SectionSearch:
        search = self.searches[at]
        assert search is not None
        return search

    def listen(self) -> None:
        """Take in what the other hand has found, a few times a second."""
        now = time.perf_counter()
        if self.line is not None and now - self.listened >= _LISTEN_EVERY:
            self.listened = now
            for at, news in self.line.heard():
                search = self.searches[at]
                if search is not None:
                    search.standing.hear(news)

    def _part(self, at: int) -> Limits:
        """What a section is of the whole in the progress told."""
        total = sum(self.work) or 1
        return self.limits.part(0.95 * sum(self.work[:at]) / total, 0.95 * self.work[at] / total)

    def _await_the_other(self) -> None:
        """While the other hand is still at work on what is not proved, its plans may get better."""
        while self.line is not None and self.line.open and not self.limits.over() and not self._answered():
            time.sleep(min(_WAIT, self.limits.left()))
            self.listen()

    def _answered(self) -> bool:
        """Whether what was asked is proved: of cover alone, that all is there or that something must be short."""
        plans = [search.plan for search in self.searches if search is not None]
        if self.ask == "covered":
            return any(plan.short_bound for plan in plans) or not any(plan.short for plan in plans)
        return all(plan.short == plan.short_bound for plan in plans) and sum(plan.leeway for plan in plans) >= 0

    def _spare(self, but: int) -> float:
        """What all other sections together leave of how far from its bound a proved plan may be, in mm; below nothing
        where they lack so little that this one may leave it to them."""
        plans = [search.plan for at, search in enumerate(self.searches) if search is not None and at != but]
        if any(plan.short > plan.short_bound for plan in plans):
            return 0.0
        spare = sum(plan.leeway for plan in plans)
        return spare if spare >= -_LITTLE * sum(plan.cost for plan in plans) else 0.0
