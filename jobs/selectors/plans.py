"""What an answered check means for the job: runs composed, what to send and when, how thin it is."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any

from inventory.models import GearType
from jobs.models import CoverCheck, Job
from jobs.planning.availability import Steps
from jobs.planning.laying import best_order
from jobs.planning.request import CoverRequest, PieceType, Run
from jobs.planning.request_json import stored_request
from jobs.planning.runs import runs_of_all
from jobs.selectors.cutlist import CutList, cut_list, run_rules
from jobs.selectors.panels import planned_panels

DAY = timedelta(days=1)


@dataclass(frozen=True)
class Level:
    """One day of a section, in mm: in use, on hand, and what other jobs have reserved or hold."""

    day: date
    used: int
    on_hand: int
    reserved: int = 0

    @property
    def lacking(self) -> int:
        return max(0, self.used - self.on_hand)


@dataclass(frozen=True)
class Plan:
    """A check's question and answer, read. `pieces` are the type codes of each run, from the seat, by its key."""

    check: CoverCheck
    request: CoverRequest
    pieces: Mapping[str, tuple[str, ...]]
    impossible: frozenset[str]
    types: Mapping[str, PieceType]

    def lengths(self) -> dict[str, list[int]]:
        """Lengths from the seat of each composed run, by its key."""
        return lengths_in(self.pieces, self.types)

    def used(self) -> dict[str, Counter[date]]:
        """How many of each type are in use on each day, by code."""
        found: dict[str, Counter[date]] = defaultdict(Counter)
        for run in self.request.runs:
            for code in self.pieces.get(str(run.side), ()):
                for day in days_between(run.start, run.until):
                    found[code][day] += 1
        return found

    def cut_list(self) -> CutList:
        """The take-off with its runs composed, so that its counts are exact; worked out once."""
        return self._cut_list

    @cached_property
    def _cut_list(self) -> CutList:
        return cut_list(self.check.job, self.lengths(), self.impossible)


def read_plan(check: CoverCheck) -> Plan:
    """The plan of an answered check."""
    request = stored_request(check.request)
    answer = check.answer or {}
    types = {piece.code: piece for piece in request.pieces}
    made = {str(run["side"]): tuple(run["pieces"]) for run in answer.get("runs", []) if run["pieces"]}
    return Plan(
        check,
        request,
        {**made, **well_ordered(check.job, made, types)},
        frozenset(str(run["side"]) for run in answer.get("impossible", [])),
        types,
    )


def lengths_in(pieces: Mapping[str, Sequence[str]], types: Mapping[str, PieceType]) -> dict[str, list[int]]:
    """The lengths of runs given by type codes."""
    return {key: [types[code].length_mm for code in codes] for key, codes in pieces.items()}


def well_ordered(
    job: Job, made: Mapping[str, tuple[str, ...]], types: Mapping[str, PieceType]
) -> dict[str, tuple[str, ...]]:
    """Runs of several pieces in the order that keeps most joints clear of the seats."""
    several = {key for key, codes in made.items() if len(codes) > 1}
    if not several:
        return {}
    found = {}
    for run in runs_of_all(planned_panels(job), run_rules(job)):
        if run.key in several:
            kinds = [types[code] for code in made[run.key]]
            order = best_order(run, [kind.length_mm for kind in kinds], [kind.splayed_ends for kind in kinds])
            found[run.key] = tuple(kinds[at].code for at in order)
    return found


def span_of(runs: Iterable[Run]) -> tuple[date, date]:
    """The half-open days on which any of the runs holds gear."""
    listed = list(runs)
    return min(run.start for run in listed), max(run.until for run in listed)


def days_between(start: date, until: date) -> list[date]:
    return [start + DAY * at for at in range((until - start).days)]


def held_steps(plan: Plan) -> dict[str, Steps]:
    """What the job holds of each type, step by step: its greatest use throughout, and never more than is on hand,
    unless it is in use all the same. A step down is a partial return."""
    found: dict[str, Steps] = {}
    days = days_between(*span_of(plan.request.runs))
    for code, used in plan.used().items():
        most = max(used.values())
        steps: list[tuple[date, int]] = []
        for day in days:
            level = max(used[day], min(most, plan.types[code].count_on(day)))
            if level != (steps[-1][1] if steps else 0):
                steps.append((day, level))
        found[code] = tuple(steps)
    return found


def section_levels(plan: Plan) -> dict[int, list[Level]]:
    """In use, on hand and reserved by others of each section, day by day, in whole mm."""
    used, found = plan.used(), {}
    days = days_between(*span_of(plan.request.runs))
    for section in sorted({run.section_mm for run in plan.request.runs}):
        types = [piece for piece in plan.request.pieces if piece.section_mm == section]
        found[section] = [
            Level(
                day,
                sum(used.get(piece.code, Counter())[day] * piece.length_mm for piece in types),
                sum(piece.count_on(day) * piece.length_mm for piece in types),
                _level_on(plan.check.beside.get("reserved", {}).get(str(section), ()), day),
            )
            for day in days
        ]
    return found


def _level_on(steps: Iterable[Sequence[Any]], day: date) -> int:
    """The level of stored steps (day, mm) on a day; none before the first."""
    return next((mm for since, mm in reversed(list(steps)) if date.fromisoformat(since) <= day), 0)


def changes_only(levels: Sequence[Level]) -> list[Level]:
    """The days on which anything changes: what stands between two of them is as on the first."""
    kept: list[Level] = []
    for level in levels:
        if not kept or replace(kept[-1], day=level.day) != level:
            kept.append(level)
    return kept


@dataclass(frozen=True)
class Tight:
    """The type and day with least to spare in a plan that is covered."""

    code: str
    day: date
    spare: int


def tightest(plan: Plan) -> Tight | None:
    """Where the plan is thinnest: fewest pieces to spare, then the earliest day."""
    found = [
        Tight(code, day, plan.types[code].count_on(day) - count)
        for code, used in plan.used().items()
        for day, count in used.items()
    ]
    return min(found, key=lambda tight: (tight.spare, tight.day, tight.code), default=None)


@dataclass(frozen=True)
class FormLine:
    """So many of one edge form to send, what it is short of, and from which day; `lacks` are steps (day, how many)."""

    type: GearType
    count: int
    short: int
    first: date | None
    lacks: Steps = ()

    @property
    def mass_kg(self) -> Decimal:
        return self.type.mass_kg * self.count


def load_lines(plan: Plan) -> list[FormLine]:
    """The edge forms of the load list: each type by its greatest daily use."""
    answer = plan.check.answer or {}
    short = {item["code"]: item for item in answer["short"]}
    types = {kind.code: kind for kind in GearType.objects.filter(code__in=[load["code"] for load in answer["load"]])}
    used = plan.used() if short else {}
    return [
        FormLine(
            types[load["code"]],
            load["count"],
            short[load["code"]]["count"] if load["code"] in short else 0,
            date.fromisoformat(short[load["code"]]["first"]) if load["code"] in short else None,
            _lacks(plan, load["code"], used[load["code"]]) if load["code"] in short else (),
        )
        for load in answer["load"]
        if load["code"] in types
    ]


def _lacks(plan: Plan, code: str, used: Counter[date]) -> Steps:
    """How many of a type lack from each day on that this changes; a last step of none after the days of the plan."""
    first, until = span_of(plan.request.runs)
    steps: list[tuple[date, int]] = []
    for day in [*days_between(first, until), until]:
        lack = max(0, used[day] - plan.types[code].count_on(day)) if day < until else 0
        if lack != (steps[-1][1] if steps else 0):
            steps.append((day, lack))
    return tuple(steps)


@dataclass(frozen=True)
class SideLine:
    """One side with the pieces chosen for it, from the seat; `reason` where none can make it."""

    pour: str
    key: str
    run: Run
    codes: tuple[str, ...]
    total_mm: int
    reason: str

    @property
    def number(self) -> str:
        """The side's number on its panel."""
        return self.key.rpartition("/")[2]


def sides(plan: Plan) -> list[SideLine]:
    """Every run of the question with what was chosen for it."""
    reasons = {str(item["side"]): item["reason"] for item in (plan.check.answer or {})["impossible"]}
    found = []
    for run in plan.request.runs:
        key = str(run.side)
        codes = plan.pieces.get(key, ())
        total = sum(plan.types[code].length_mm for code in codes)
        found.append(SideLine(str(run.pour), key, run, codes, total, reasons.get(key, "")))
    return found
