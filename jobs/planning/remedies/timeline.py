"""A job's pours on the calendar, and the cover check's question as it would be with some of them moved.

A pour moves by whole working days. Its days are then worked out anew, since cure runs in calendar time; days
given by hand move by as many working days. Stock stays on its own days, so it must be known as far as pours
may move.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from jobs.calendars.working import WorkingCalendar
from jobs.planning.pours import PourDays, PourTimes, pour_days
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

    `above` are pairs of pours, the second standing on the first in some stack.
    """

    request: CoverRequest
    pours: tuple[PlannedPour, ...]
    times: PourTimes
    calendar: WorkingCalendar
    above: tuple[tuple[str, str], ...] = ()

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

    def only(self, sections: Collection[int], without: Collection[tuple[Label, Label]] = ()) -> Timeline:
        """The same with the runs and types of some sections alone, and without some runs, by pour and side."""
        request = replace(
            self.request,
            pieces=tuple(piece for piece in self.request.pieces if piece.section_mm in sections),
            runs=tuple(r for r in self.request.runs if r.section_mm in sections and (r.pour, r.side) not in without),
        )
        return replace(self, request=request)


def _moved(runs: Sequence[Run], spans: Mapping[str, tuple[date, date]]) -> Iterator[Run]:
    for run in runs:
        span = spans.get(str(run.pour))
        yield replace(run, start=span[0], until=span[1]) if span else run
