"""What the pages show of a remedy: its title, its press, what it takes line by line, and what would move."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.utils import timezone

from inventory.models import GearType, Piece
from jobs.calendars.working import WorkingCalendar
from jobs.models import Job, RemedySearch, Supply
from jobs.planning.pours import PourDays
from jobs.planning.remedies.timeline import PlannedPour, Timeline
from jobs.planning.request import CoverRequest, Rules
from jobs.selectors.pours import days_of, job_calendar, movable, pour_times
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
}
PRESSES = {
    "clean": "Put them first in the queues",
    "chase": "Mark them to be asked back",
    "wait": "Put the job off",
    "move": "Move these pours",
    "cut": "Wish for these cuts",
    "replan": "Write these load lists anew",
}
NOT_EXPORTED = {"key", "cents", "changes", "held", "answer"}
LOOKED_AT_FIRST = ("wait", "move", "replan")


@dataclass(frozen=True)
class Row:
    """One line of what a remedy takes. `day` is when it is wanted, `load_on` when that is loaded in the yard."""

    what: str
    type: GearType | None
    count: int
    day: date | None = None
    load_on: date | None = None
    where: str = ""
    piece: Piece | None = None
    cost: Decimal | None = None


@dataclass(frozen=True)
class MovedRow:
    """A pour before and after."""

    pour: str
    days: int
    before: PourDays
    after: PourDays


@dataclass(frozen=True)
class CutRow:
    """So many of a type, each cut alike; `query` opens the page that cuts filled in."""

    code: str
    into: Sequence[str]
    count: int
    offcut_mm: int
    splay: int
    day: date
    query: str


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
    done_at: datetime | None = None

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
        return sum(costs, Decimal(0)) if costs else None


def shown(search: RemedySearch, remedy: dict[str, Any]) -> Shown:
    """A stored remedy with the rows behind it."""
    job = search.check_asked.job
    lines = remedy["lines"]
    if remedy["name"] == "wait" and lines:
        return Shown(remedy, moved=list(_put_off(job, int(lines[0]["days"]))))
    if remedy["name"] == "move":
        shifts = {line["pour"]: int(line["days"]) for line in lines}
        return Shown(remedy, moved=list(moved_rows(job, shifts, job_calendar(job))))
    if remedy["name"] == "cut":
        return Shown(remedy, cuts=list(_cuts(job, lines)))
    if remedy["name"] == "bars":
        return Shown(remedy, bars=lines)
    if remedy["name"] == "replan":
        return Shown(remedy, changes=list(_changes(lines)))
    if remedy["name"] in {"clean", "chase", "buy"}:
        return Shown(remedy, rows=list(_rows(job, remedy["name"], lines)))
    return Shown(remedy)


def _rows(job: Job, name: str, lines: Sequence[dict[str, Any]]) -> Iterator[Row]:
    arrivals = Arrivals(job, date.min, job_calendar(job))
    types = {kind.code: kind for kind in GearType.objects.filter(code__in=[line["code"] for line in lines])}
    labels = [line["tag"] for line in lines if "tag" in line]
    pieces = {piece.label: piece for piece in Piece.objects.filter(label__in=labels).select_related("place__parent")}
    supplies = Supply.objects.in_bulk([int(key) for line in lines if (key := _supply_of(line))])
    for line in lines:
        day, piece = date.fromisoformat(line["day"]), pieces.get(line.get("tag", ""))
        supply = supplies.get(int(_supply_of(line) or 0))
        yield Row(
            what=line.get("need") or ("hire in" if supply and supply.way == Supply.Way.HIRE else name),
            type=types.get(line["code"]),
            count=line.get("count", 1),
            day=day,
            load_on=arrivals.load_day(day),
            where=line.get("holder") or (str(piece.place) if piece and piece.place else supply.note if supply else ""),
            piece=piece,
            cost=Decimal(line["cents"]) / 100 if "cents" in line else None,
        )


def _supply_of(line: dict[str, Any]) -> str:
    """The id of the supply a line is bought from, if one is listed."""
    *_, last = line.get("key", "").split("|")
    return last if last.isdigit() else ""


def _cuts(job: Job, lines: Sequence[dict[str, Any]]) -> Iterator[CutRow]:
    for line in lines:
        asked = {"from": line["code"], "into": ",".join(line["into"]), "why": f"wanted for {job.code}"}
        day = date.fromisoformat(line["day"])
        yield CutRow(line["code"], line["into"], line["count"], line["offcut_mm"], line["splay"], day, urlencode(asked))


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


def export_rows(remedy: dict[str, Any]) -> Iterator[list[Any]]:
    """The lines of a remedy as a table: a head, then a row each."""
    lines = remedy["lines"]
    heads = [name for name in (lines[0] if lines else {}) if name not in NOT_EXPORTED]
    has_cost = bool(lines) and "cents" in lines[0]
    yield [*heads, *(["cost each", "cost"] if has_cost else [])]
    for line in lines:
        costs = [Decimal(line["cents"]) / 100, Decimal(line["cents"]) * line["count"] / 100] if has_cost else []
        yield [*(_cell(line[name]) for name in heads), *costs]


def _cell(value: Any) -> Any:
    return " + ".join(map(str, value)) if isinstance(value, list) else value


def listed(search: RemedySearch) -> tuple[list[Shown], list[Shown]]:
    """The remedies of a search, without their rows: those that turn the answer, and those that do not."""
    found = [
        Shown(each, done_at=datetime.fromisoformat(said) if (said := search.applied.get(each["name"])) else None)
        for each in (search.answer or {}).get("remedies", [])
    ]
    return [each for each in found if each.remedy["turns"]], [each for each in found if not each.remedy["turns"]]
