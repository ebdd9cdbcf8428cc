"""A job's pours on the calendar, and the cover check's question as it would be with some of them moved.

A pour moves by whole working days. Its days are then worked out anew, since cure runs in calendar time; days
given by hand move by as many working days. Stock stays on its own days, so it must be known as far as pours
may move.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property

from jobs.calendars.working import WorkingCalendar
from jobs.planning.availability import Steps
from jobs.planning.pours import PourDays, PourTimes, pour_days
from jobs.planning.remedies.articles import Article
from jobs.planning.remedies.counting import Counting
from jobs.planning.request import CoverRequest, Label, Run


@dataclass(frozen=True, slots=True)
class PlannedPour:
    """One pour: when it is cast, days given by hand, how many panels; `fixed` cannot be moved any more."""

    name: str
    cast: date
    panels: int = 1
    set_given: date | None = None
    free_given: date | None = None
    fixed: bool = False


@dataclass(frozen=True)
class Timeline:
    """`request` is the question as it stands, its stock known for as long as pours may move.

    `above` are pairs of pours, the second standing on the first in some stack. `articles` are what pours need beside
    the edge forms, their stock known as long; counted as the runs of the check have them. `counting` counts them anew
    for other runs; without it they are the same whatever is composed. `owed` is the stock
    of types of which others have claimed more than there is, below 0 by that.
    """

    request: CoverRequest
    pours: tuple[PlannedPour, ...]
    times: PourTimes
    calendar: WorkingCalendar
    above: tuple[tuple[str, str], ...] = ()
    articles: tuple[Article, ...] = ()
    counting: Counting | None = None
    owed: Mapping[str, Steps] = field(default_factory=dict)

    @property
    def least(self) -> tuple[Article, ...]:
        """The least of each article that any way to compose the runs needs."""
        return self.articles if self.counting is None else self.counting.least

    @cached_property
    def by_name(self) -> dict[str, PlannedPour]:
        return {pour.name: pour for pour in self.pours}

    @cached_property
    def runs_of(self) -> dict[str, list[Run]]:
        """The runs of each pour, in the order of the request."""
        found: dict[str, list[Run]] = {pour.name: [] for pour in self.pours}
        for run in self.request.runs:
            found[str(run.pour)].append(run)
        return found

    def days(self, name: str, shift: int) -> PourDays:
        """The days of a pour moved by `shift` working days."""
        pour = self.by_name[name]
        worked_out = pour_days(self.moved_day(pour.cast, shift), self.times, self.calendar)
        return replace(
            worked_out,
            set=self.moved_day(pour.set_given, shift) if pour.set_given else worked_out.set,
            free=self.moved_day(pour.free_given, shift) if pour.free_given else worked_out.free,
        )

    def moved_day(self, day: date, shift: int) -> date:
        """A day moved by working days; not moved it stays what it is, worked or not."""
        return self.calendar.add(day, shift) if shift else day

    def moved(self, shifts: Mapping[str, int]) -> CoverRequest:
        """The question with those pours moved; the others stay."""
        spans = {name: self.days(name, shift).held for name, shift in shifts.items() if shift}
        return replace(self.request, runs=tuple(_moved(self.request.runs, spans)))

    def with_owed(self, request: CoverRequest) -> CoverRequest:
        """A question with its stock below 0 where others have claimed more than there is: they come first."""
        return request.with_stock({code: list(steps) for code, steps in self.owed.items()})

    def spans(self, shifts: Mapping[str, int]) -> dict[str, tuple[date, date]]:
        """The half-open days on which each pour holds its gear, some of them moved."""
        return {pour.name: self.days(pour.name, shifts.get(pour.name, 0)).held for pour in self.pours}

    def without(self, gone: Collection[tuple[Label, Label]]) -> Timeline:
        """The same without some runs, by pour and side."""
        runs = tuple(run for run in self.request.runs if (run.pour, run.side) not in gone)
        return replace(self, request=replace(self.request, runs=runs))


def _moved(runs: Sequence[Run], spans: Mapping[str, tuple[date, date]]) -> Iterator[Run]:
    for run in runs:
        span = spans.get(str(run.pour))
        yield replace(run, start=span[0], until=span[1]) if span else run
