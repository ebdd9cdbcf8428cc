"""What the pages show of a remedy: its title, its press, what it takes line by line, and what would move."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone

from jobs.calendars.working import WorkingCalendar
from jobs.models import Chase, Job, RemedySearch
from jobs.planning.pours import PourDays
from jobs.planning.remedies.timeline import PlannedPour, Timeline
from jobs.planning.request import CoverRequest, Rules
from jobs.selectors.chases import leave_by
from jobs.selectors.pours import days_of, job_calendar, movable, pour_times
from jobs.selectors.remedy_rows import CutRow, Row, cuts_of, rows_of
from jobs.selectors.waiting import Arrivals

TITLES = {
    "clean": "Clean or mend first",
    "chase": "Ask gear back",
    "wait": "Start later",
    "move": "Move some pours",
    "buy": "Buy or hire in",
    "cut": "Cut down surplus lengths",
    "bars": "Cut new ones from mill bars",
    "replan": "Plan it together with other jobs",
    "mix": "Several at once",
}
PRESSES = {
    "clean": "Put them first in the queues",
    "chase": "Mark them to be asked back",
    "wait": "Put the job off",
    "move": "Move these pours",
    "cut": "Plan these cuts",
    "replan": "Write these load lists anew",
    "buy": "Put them on order",
    "bars": "Put these forms on order",
    "mix": "Set all of it going",
}
LOOKED_AT_FIRST = ("cut", "wait", "move", "replan", "buy", "bars", "mix")


@dataclass(frozen=True)
class MovedRow:
    """A pour before and after."""

    pour: str
    days: int
    before: PourDays
    after: PourDays


@dataclass(frozen=True)
class LoadChange:
    """What one job holds of a type after a truck, now and then."""

    job: str
    load_on: date
    code: str
    now: int
    then: int


@dataclass(frozen=True)
class Shown:
    """A remedy as the page has it."""

    remedy: dict[str, Any]
    rows: Sequence[Row] = ()
    moved: Sequence[MovedRow] = ()
    cuts: Sequence[CutRow] = ()
    bars: Sequence[dict[str, Any]] = ()
    changes: Sequence[LoadChange] = ()
    articles: Sequence[dict[str, Any]] = ()
    done_at: datetime | None = None
    ready_by: date | None = None
    leave_by: Sequence[tuple[str, date]] = ()

    @property
    def looked_at_first(self) -> bool:
        """Whether what it changes is shown before the press."""
        return self.name in LOOKED_AT_FIRST

    @property
    def name(self) -> str:
        return self.remedy["name"]

    @property
    def title(self) -> str:
        return TITLES[self.name]

    @property
    def press(self) -> str:
        return PRESSES.get(self.name, "")

    @property
    def total(self) -> Decimal | None:
        costs = [row.cost * row.count for row in self.rows if row.cost is not None]
        costs += [bar["cost"] * bar["times"] for bar in self.bars if bar["cost"] is not None]
        return sum(costs, Decimal(0)) if costs or self.priceless else None

    @property
    def priceless(self) -> bool:
        """Whether some of it has no known price."""
        return any(row.priceless for row in self.rows)


def shown(search: RemedySearch, remedy: dict[str, Any]) -> Shown:
    """A stored remedy with the rows behind it."""
    job, name = search.check_asked.job, remedy["name"]
    lines = [{"do": name, **line} for line in remedy["lines"]]
    of = {do: [line for line in lines if line["do"] == do] for do in ("wait", "clean", "chase", "buy", "cut", "move")}
    shifts = {line["pour"]: int(line["days"]) for line in of["move"]}
    moved: Iterator[MovedRow] = iter(())
    if of["wait"]:
        moved = _put_off(job, int(of["wait"][0]["days"]))
    elif shifts:
        moved = moved_rows(job, shifts, job_calendar(job))
    timed = [*of["clean"], *of["chase"], *of["buy"]]
    return Shown(
        remedy,
        rows=list(rows_of(job, timed)) if timed else [],
        moved=list(moved),
        cuts=list(cuts_of(job, of["cut"])),
        bars=[_with_words(line) for line in lines if line["do"] == "bars"],
        changes=list(_changes(lines)) if name == "replan" else [],
        articles=[{"job": line["job"], **each} for line in lines for each in line.get("articles", ())],
        **_days(job, [*of["clean"], *of["chase"]]),
    )


def _days(job: Job, lines: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """When the first of it must be ready in the yard, and the last day each site may let go of what is asked back."""
    if not lines:
        return {}
    today = timezone.localdate()
    arrivals = Arrivals(job, today, job_calendar(job, today))
    days = [arrivals.load_day(date.fromisoformat(line["day"])) for line in lines]
    first: dict[str, date] = {}
    for line, day in zip(lines, days, strict=True):
        if "holder" in line:
            first[line["holder"]] = min(day, first.get(line["holder"], day))
    holders = Job.objects.filter(code__in=first).order_by("code")
    chases = [Chase(holder=holder, wanted_for=job, by_day=first[holder.code]) for holder in holders]
    leaving = [(chase.holder.code, leave_by(chase, today)) for chase in chases]
    return {"ready_by": max(today, min(days)), "leave_by": leaving}


ENDS = {0: "both ends square", 1: "one end splayed", 2: "both ends splayed"}


def _with_words(line: dict[str, Any]) -> dict[str, Any]:
    """A bar's cut with each form in words: its length and how its ends are finished."""
    forms = zip(line["pieces"], line["codes"], line["splayed_ends"], strict=True)
    alike = Counter((length, code, ends) for length, code, ends in forms)
    words = [(count, code, length, ENDS[ends]) for (length, code, ends), count in alike.items()]
    cents = line.get("cents")
    cost = None if cents is None else Decimal(cents) / 100
    return {**line, "forms": words, "splayed": sum(line["splayed_ends"]), "cost": cost}


def _changes(lines: Sequence[dict[str, Any]]) -> Iterator[LoadChange]:
    for line in lines:
        for at, load in enumerate(line["trucks"]):
            for code, change in sorted(line["changes"].items()):
                now, then = change["now"][at], change["then"][at]
                if now != then:
                    yield LoadChange(line["job"], date.fromisoformat(load), code, now, then)


def _put_off(job: Job, days: int) -> Iterator[MovedRow]:
    calendar = job_calendar(job)
    yield from moved_rows(job, dict.fromkeys(movable(job, calendar, timezone.localdate()), days), calendar)


def moved_rows(job: Job, shifts: dict[str, int], calendar: WorkingCalendar) -> Iterator[MovedRow]:
    """Each pour that moves, with its days before and after."""
    pours = tuple(
        PlannedPour(pour.name, pour.cast_on, 1, pour.set_on, pour.free_on) for pour in job.pours.order_by("cast_on")
    )
    empty = CoverRequest(Rules(0, 0, 1, 0, 0), (), ())
    timeline = Timeline(empty, pours, pour_times(job), calendar)
    now = days_of(job, calendar)
    for pour in pours:
        if shifts.get(pour.name):
            yield MovedRow(pour.name, shifts[pour.name], now[pour.name], timeline.days(pour.name, shifts[pour.name]))


def listed(search: RemedySearch) -> tuple[list[Shown], list[Shown]]:
    """The remedies of a search, without their rows: those that turn the answer, and those that do not."""
    found = [
        Shown(
            each,
            done_at=datetime.fromisoformat(said) if (said := search.applied.get(each["name"])) else None,
            **(_days(search.check_asked.job, each["lines"]) if each["name"] in {"clean", "chase"} else {}),
        )
        for each in (search.answer or {}).get("remedies", [])
    ]
    return [each for each in found if each.remedy["turns"]], [each for each in found if not each.remedy["turns"]]
