"""What composed runs need beside the edge forms, against the stock on every day: brackets, clamps, plates, tools,
and counted goods, of which inserts and the like are used up.

Kept with the check that asked for it as plain rows, so that a page reads what was answered then.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from inventory.models import GearType
from jobs.models import Job
from jobs.planning.availability import Steps
from jobs.planning.goods import GoodsNeed, Lack, against, goods_needs, level
from jobs.planning.takeoff import Need, Takeoff
from jobs.selectors.articles import type_for
from jobs.selectors.cutlist import CutList
from jobs.selectors.pours import Programme, programme_of
from jobs.selectors.stock import AS_THEY_ARE, Instead, stock_for


@dataclass(frozen=True)
class Goods:
    """One article: what is needed of it and what there is, step by step. `type` is None when no one type of the
    catalogue fits; it is then not checked, and `lack` is None."""

    need: GoodsNeed
    type: GearType | None
    stock: Steps
    lack: Lack | None

    def as_json(self) -> dict[str, Any]:
        lack = self.lack
        return {
            "what": self.need.what,
            "type": self.type.pk if self.type else None,
            "used_up": self.need.used_up,
            "need": [[day.isoformat(), count] for day, count in self.need.steps],
            "stock": [[day.isoformat(), count] for day, count in self.stock],
            "most": self.need.most,
            "send": self.need.send,
            "short": lack.short if lack else None,
            "first": lack.first.isoformat() if lack and lack.first else None,
            "spare": lack.spare if lack else None,
            "tightest": lack.tightest.isoformat() if lack and lack.tightest else None,
        }


def goods_for(
    job: Job, cut: CutList, today: date, programme: Programme | None = None, instead: Instead = AS_THEY_ARE
) -> list[Goods]:
    """Every article the rules count for the pours that still need it, as other jobs' load lists `instead` leave it."""
    needs = needs_of(job, cut, today, programme or programme_of(job))
    types = {need.what: type_for(need.what, need.by_type, cut.types) for need in needs}
    days = [day for need in needs for day, _ in need.steps]
    if not days:
        return []
    span = (min(days), max(max(days), job.ends_on or max(days)))
    known = [kind for kind in types.values() if kind is not None]
    used_up = {kind.code for need in needs if need.used_up and (kind := types[need.what]) is not None}
    until = (span[0], date.fromordinal(span[1].toordinal() + 1))
    stock = stock_for(job, [kind.code for kind in known], until, today, used_up=used_up, instead=instead)
    return [_goods(need, types[need.what], stock) for need in needs]


def needs_of(job: Job, cut: CutList, today: date, programme: Programme) -> tuple[GoodsNeed, ...]:
    """The needs of the pours whose gear is not free yet; a pour already cast has had what it uses up."""
    days = {name: pour.held for name, pour in programme.days.items() if pour.free > today}
    takeoff = replace(cut.takeoff, panels=tuple(item for item in cut.takeoff.panels if item.panel.pour in days))
    takeoff = _one_name_a_type(takeoff, cut.types)
    return tuple(need for need in goods_needs(takeoff, cut.rules, days, programme.cast) if need.steps)


def _one_name_a_type(takeoff: Takeoff, types: Sequence[GearType]) -> Takeoff:
    """Rules may call one type by its code, its name or its kind; it is then needed, and checked, as one."""
    names = {(need.what, need.by_type) for need in takeoff.needs}
    kinds = {name: kind for name in names if (kind := type_for(*name, types))}
    named = Counter(kind.code for kind in kinds.values())

    def one(need: Need) -> Need:
        kind = kinds.get((need.what, need.by_type))
        return need if kind is None or named[kind.code] < 2 else replace(need, what=kind.code, by_type=True)

    panels = tuple(replace(item, needs=tuple(map(one, item.needs))) for item in takeoff.panels)
    return replace(takeoff, panels=panels, crew_needs=tuple(map(one, takeoff.crew_needs)))


def _goods(need: GoodsNeed, kind: GearType | None, stock: dict[str, Steps]) -> Goods:
    if kind is None:
        return Goods(need, None, (), None)
    steps = stock[kind.code]
    return Goods(need, kind, steps, against(need, steps))


@dataclass(frozen=True)
class GoodsRow:
    """One article as a check has it. `short` and what follows are None where no one type fits."""

    what: str
    type: GearType | None
    used_up: bool
    most: int
    send: int
    short: int | None
    first: date | None
    spare: int | None
    tightest: date | None
    need: Steps
    stock: Steps

    @property
    def name(self) -> str:
        return self.type.name if self.type else self.what

    @property
    def days(self) -> list[tuple[date, int, int]]:
        """(day, needed, on hand) on every day that either changes."""
        days = sorted({day for day, _ in self.need} | {day for day, _ in self.stock})
        return [(day, level(self.need, day), level(self.stock, day)) for day in days]


def why_short(row: GoodsRow) -> str:
    """The proof that an article is short, on its worst day, in numbers that can be checked by hand."""
    day = row.tightest
    if not row.short or day is None:
        return ""
    need, there = level(row.need, day), level(row.stock, day)
    needs = "have been used up or are wanted by then" if row.used_up else "are needed at once"
    first = f" The first day that lacks any is {_said(row.first)}." if row.first and row.first != day else ""
    lacking = f"{there:,} can be on site: {need - there:,} lacking."
    return f"On {_said(day)}, {need:,} x {row.name} {needs}, and {lacking}{first}"


def _said(day: date) -> str:
    return f"{day:%a} {day.day} {day:%B %Y}"


def stored_goods(rows: Sequence[dict[str, Any]]) -> list[GoodsRow]:
    """The rows of a check, read; those short first, then those that are not checked."""
    types = GearType.objects.in_bulk([row["type"] for row in rows if row["type"]])
    found = [
        GoodsRow(
            row["what"],
            types.get(row["type"]),
            row["used_up"],
            row["most"],
            row["send"],
            row["short"],
            _day(row["first"]),
            row["spare"],
            _day(row["tightest"]),
            _steps(row["need"]),
            _steps(row["stock"]),
        )
        for row in rows
    ]
    return sorted(found, key=lambda row: (not row.short, row.short is not None))


def short_of(rows: Sequence[dict[str, Any]]) -> bool:
    return any(row["short"] for row in rows)


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _steps(rows: Sequence[Sequence[Any]]) -> Steps:
    return tuple((date.fromisoformat(day), count) for day, count in rows)
