"""All jobs on one stock: what each takes of every type, the days that break, and how late a return may be.

A job takes, on each day, the greater of what it has reserved and what it holds, until its gear is back, counted and
clean; a yard has what its lots come to less what all jobs take. A day breaks for a type when that is under nought.
The job that breaks is the one whose taking rose last, since its load is the one that finds too little. Days are
half-open; counts in pieces.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from jobs.calendars.working import WorkingCalendar
from jobs.planning.availability import Claim, Lot

DAY = timedelta(days=1)
FOR_GOOD = date.max


@dataclass(frozen=True, slots=True)
class Taking:
    """One claim with the job that makes it."""

    job: str
    claim: Claim

    def rose_on(self, day: date) -> date:
        """The last day, up to `day`, on which it took more than before; the least day for what it simply holds."""
        rises, had = [date.min], 0
        for start, count in self.claim.reserved:
            if count > had and start <= day:
                rises.append(start)
            had = count
        return rises[-1]


@dataclass(frozen=True)
class Fleet:
    """Lots in the yards (what jobs hold among them) and what every job takes."""

    lots: tuple[Lot, ...]
    takings: tuple[Taking, ...]

    @property
    def codes(self) -> list[str]:
        """Every type that some job takes."""
        return sorted({taking.claim.code for taking in self.takings})


@dataclass(frozen=True, slots=True)
class Level:
    """One type from one day on: what there is in all, what jobs take of it, and what is over (negative: lacking)."""

    day: date
    there: int
    taken: int

    @property
    def over(self) -> int:
        """What no job takes."""
        return self.there - self.taken


@dataclass(frozen=True, slots=True)
class Break:
    """A type that lacks up to `lack` pieces on [`first`, `until`), and the job whose load finds too little."""

    code: str
    first: date
    until: date
    lack: int
    job: str


def levels(fleet: Fleet, first: date, until: date) -> dict[str, list[Level]]:
    """Each type's level on `first` and on every later day before `until` that changes it.

    >>> lots = (Lot("A", 5, date(2027, 3, 1)),)
    >>> takings = (Taking("J1", Claim("A", ((date(2027, 3, 3), 4),), 0, date(2027, 3, 8))),)
    >>> [(level.day.day, level.over) for level in levels(Fleet(lots, takings), date(2027, 3, 1), date(2027, 3, 9))["A"]]
    [(1, 5), (3, 1), (8, 5)]
    """
    return {code: _levels(*parts, first, until) for code, parts in _by_code(fleet).items() if parts[1]}


def breaks(fleet: Fleet, first: date, until: date) -> list[Break]:
    """Every stretch of days on which a type is lacking, earliest first."""
    found = []
    takings = {code: parts[1] for code, parts in _by_code(fleet).items()}
    for code, steps in levels(fleet, first, until).items():
        ends = [level.day for level in steps[1:]] + [until]
        stretch: list[tuple[Level, date]] = []
        for level, end in zip(steps, ends, strict=True):
            if level.over < 0:
                stretch.append((level, end))
            elif stretch:
                found.append(_break(code, stretch, takings[code]))
                stretch = []
        if stretch:
            found.append(_break(code, stretch, takings[code]))
    return sorted(found, key=lambda one: (one.first, one.code))


def run_late(fleet: Fleet, job: str, days: int, calendar: WorkingCalendar) -> Fleet:
    """The fleet if a job's gear comes back so many working days late."""
    return _changed(fleet, job, lambda back: calendar.add(back, days))


def does_not_come(fleet: Fleet, job: str, day: date | None = None) -> Fleet:
    """The fleet if the truck that brings a job's gear back on `day` (its last one, without a day) does not come."""
    takings = tuple(_without(taking, day) if taking.job == job else taking for taking in fleet.takings)
    return replace(fleet, takings=takings)


def fails(fleet: Fleet, code: str, count: int, day: date) -> Fleet:
    """The fleet if so many pieces of a type fail on a day: from then on so many fewer are there, for good."""
    return replace(fleet, lots=(*fleet.lots, Lot(code, -count, day)))


@dataclass(frozen=True, slots=True)
class Return:
    """Gear of a job that is in the yard again, counted and clean, on `day`: how many of each type."""

    job: str
    day: date
    counts: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Waiting:
    """Of one type on a return: `count` come, `wanted` of them by `needed`, or `job` breaks; `slip` days to spare.

    `needed` is None when nothing waits for it within the days looked at.
    """

    code: str
    count: int
    wanted: int
    needed: date | None
    slip: int | None
    job: str


@dataclass(frozen=True, slots=True)
class Slack:
    """How many days a return may slip (None: nothing waits for it), which job breaks then, and its types in the
    order in which to collect them."""

    back: Return
    slip: int | None
    job: str
    types: tuple[Waiting, ...]

    @property
    def wanted(self) -> tuple[Waiting, ...]:
        """The types that some load waits for."""
        return tuple(one for one in self.types if one.needed is not None)


def returns(fleet: Fleet, after: date) -> list[Return]:
    """Every return still expected after a day, earliest first: each step down of what a job takes, and its end."""
    found: dict[tuple[str, date], dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for taking in fleet.takings:
        for day, count in _falls(taking.claim):
            if after < day < FOR_GOOD:
                found[taking.job, day][taking.claim.code] += count
    return sorted(
        (Return(job, day, tuple(sorted(counts.items()))) for (job, day), counts in found.items()),
        key=lambda one: (one.day, one.job),
    )


def slack_of(back: Return, fleet: Fleet, until: date) -> Slack:
    """By how many days a return may slip before some load before `until` finds too little.

    A return may be as late as the first day on which less is over than it brings: that day's load needs it. What
    lacked on the eve was never there, so it is not awaited back.
    """
    eve, steps, takings = levels(fleet, back.day - DAY, back.day), levels(fleet, back.day, until), _by_code(fleet)
    there = [(code, count - max(0, -eve[code][0].over) if code in eve else count) for code, count in back.counts]
    waiting = [_waiting(code, count, back, steps.get(code, []), takings) for code, count in there if count > 0]
    waiting.sort(key=lambda one: (one.slip is None, one.slip or 0, one.code))
    first = waiting[0] if waiting else None
    return Slack(back, first.slip if first else None, first.job if first else "", tuple(waiting))


def _waiting(
    code: str,
    count: int,
    back: Return,
    steps: Sequence[Level],
    takings: Mapping[str, tuple[list[Lot], list[Taking]]],
) -> Waiting:
    for level in steps:
        if level.over < count:
            others = [taking for taking in takings[code][1] if taking.job != back.job]
            wanted = min(count, count - level.over)
            return Waiting(
                code, count, wanted, level.day, (level.day - back.day).days, _last_to_rise(others, level.day)
            )
    return Waiting(code, count, 0, None, None, "")


def _falls(claim: Claim) -> list[tuple[date, int]]:
    """(day, how many fewer it takes from that day), for days that a return brings about."""
    days = sorted({start for start, _ in claim.reserved} | ({claim.back} if claim.back else set()))
    found = []
    for day in days:
        before, now = claim.taken_on(day - DAY), claim.taken_on(day)
        if now < before:
            found.append((day, before - now))
    return found


def _without(taking: Taking, day: date | None) -> Taking:
    """The taking if what comes back on a day (the last, without one) stays out for good."""
    claim = taking.claim
    falls = dict(_falls(claim))
    day = day or max(falls, default=None)
    if day is None or day not in falls:
        return taking
    lost, ends = falls[day], {claim.back} if claim.back else set()
    days = sorted({date.min, *ends, *(start for start, _ in claim.reserved)})
    kept = tuple((start, claim.taken_on(start) + (lost if start >= day else 0)) for start in days)
    return replace(taking, claim=Claim(claim.code, kept, 0, FOR_GOOD))


def _changed(fleet: Fleet, job: str, later: Callable[[date], date]) -> Fleet:
    takings = []
    for taking in fleet.takings:
        back = taking.claim.back
        if taking.job == job and back is not None and back < FOR_GOOD:
            taking = replace(taking, claim=replace(taking.claim, back=later(back)))
        takings.append(taking)
    return replace(fleet, takings=tuple(takings))


def _by_code(fleet: Fleet) -> dict[str, tuple[list[Lot], list[Taking]]]:
    found: dict[str, tuple[list[Lot], list[Taking]]] = defaultdict(lambda: ([], []))
    for lot in fleet.lots:
        found[lot.code][0].append(lot)
    for taking in fleet.takings:
        found[taking.claim.code][1].append(taking)
    return found


def _levels(lots: Iterable[Lot], takings: Iterable[Taking], first: date, until: date) -> list[Level]:
    lots, claims = list(lots), [taking.claim for taking in takings]
    days = {first} | {lot.ready for lot in lots} | {lot.until for lot in lots if lot.until}
    for claim in claims:
        days |= {start for start, _ in claim.reserved} | ({claim.back} if claim.back else set())
    found: list[Level] = []
    for day in sorted(day for day in days if first <= day < until):
        there = sum(lot.count for lot in lots if lot.ready <= day and (lot.until is None or day < lot.until))
        level = Level(day, there, sum(claim.taken_on(day) for claim in claims))
        if not found or (found[-1].there, found[-1].taken) != (level.there, level.taken):
            found.append(level)
    return found


def _break(code: str, stretch: Sequence[tuple[Level, date]], takings: Sequence[Taking]) -> Break:
    first, worst = stretch[0][0], min(stretch, key=lambda one: one[0].over)[0]
    return Break(code, first.day, stretch[-1][1], -worst.over, _last_to_rise(takings, first.day))


def _last_to_rise(takings: Iterable[Taking], day: date) -> str:
    able = [taking for taking in takings if taking.claim.taken_on(day)]
    return max(
        able, key=lambda taking: (taking.rose_on(day), taking.job), default=Taking("", Claim("", (), 0, None))
    ).job
