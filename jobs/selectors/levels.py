"""Which side lies under which, and what changes from one level of a stack to the next."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from jobs.models import CoverCheck
from jobs.planning.answer import ComposedRun, CoverAnswer
from jobs.planning.checker import faults_of, measures_of
from jobs.planning.levels import Slot, changed, sides_below, steadied
from jobs.planning.panels import Panel
from jobs.planning.patterns import from_the_seat
from jobs.planning.request import CoverRequest
from jobs.planning.stacks import by_stack, neighbours
from jobs.planning.steadier import steadier
from jobs.selectors.panels import planned_panels, reading_order

WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def steady(check: CoverCheck, request: CoverRequest, answer: CoverAnswer) -> CoverAnswer:
    """The answer with its runs made so that the fewest pieces change from level to level.

    Shortage and gear cost stay; should the independent checker see anything else, the answer stays as it was.
    """
    below, types = sides_below(planned_panels(check.job)), {piece.code: piece for piece in request.pieces}
    rules = request.rules
    slots = [
        Slot(
            str(run.side),
            (run.section_mm, run.start, run.until),
            *run.window(rules),
            run.seats,
            below.get(str(run.side)),
        )
        for run in request.runs
    ]
    seats = {slot.key: slot.seats for slot in slots}
    dealt = steadied(slots, {str(run.side): run.pieces for run in answer.runs}, types)
    dealt = steadier(request, slots, dealt)
    runs = tuple(
        ComposedRun(run.pour, run.side, _ordered(dealt[str(run.side)], run.pieces, seats[str(run.side)], request))
        for run in answer.runs
    )
    same = measures_of(request, runs) == measures_of(request, answer.runs)
    if not same or faults_of(request, runs, answer.impossible):
        return answer
    return replace(answer, runs=runs)


def _ordered(new: Sequence[str], old: Sequence[str], seats: int, request: CoverRequest) -> tuple[str, ...]:
    """From the seat, as the engine lists them."""
    if Counter(new) == Counter(old):
        return tuple(old)
    types = [piece for piece in request.pieces if piece.code in new]
    counts = Counter(new)
    row = np.array([counts[kind.code] for kind in types], dtype=np.int16)
    return tuple(kind.code for kind in from_the_seat(types, row, seats))


@dataclass(frozen=True)
class SideChange:
    """What comes out of a side and what goes in, from the level below, by type code."""

    side: int
    out: tuple[str, ...]
    into: tuple[str, ...]

    @property
    def sentence(self) -> str:
        parts = [f"{', '.join(self.out)} out" if self.out else "", f"{', '.join(self.into)} in" if self.into else ""]
        return f"side {self.side}: " + "; ".join(part for part in parts if part)


@dataclass(frozen=True)
class LevelChange:
    """What changes on one panel from the panel below it."""

    stack: str
    level: int
    panel: str
    below: str
    swapped: int
    added: int
    left: int
    sides: tuple[SideChange, ...]

    @property
    def sentence(self) -> str:
        """Such as "Level 3: swap two." """
        acts = (("swap", self.swapped), ("add", self.added), ("leave off", self.left))
        said = [f"{verb} {_count(number)}" for verb, number in acts if number]
        return f"Level {self.level}: {', '.join(said) or 'nothing changes'}."


@dataclass(frozen=True)
class Changes:
    """All of a plan's, in reading order: where something changes, where nothing does, and the stacks in which nothing
    does on any level."""

    changed: Sequence[LevelChange]
    same: Sequence[LevelChange]
    steady: Sequence[str]

    @property
    def some(self) -> bool:
        return bool(self.changed or self.same)


def sorted_out(changes: Sequence[LevelChange]) -> Changes:
    ordered = sorted(changes, key=lambda change: (reading_order(change.stack), change.level))
    changed = [change for change in ordered if change.sides]
    moving = {change.stack for change in changed}
    steady = dict.fromkeys(change.stack for change in ordered if change.stack not in moving)
    return Changes(changed, [change for change in ordered if not change.sides], list(steady))


def level_changes(panels: Sequence[Panel], pieces: Mapping[str, Sequence[str]]) -> list[LevelChange]:
    """For each panel above another, what changes in its composed runs. `pieces` are type codes by run."""
    below = sides_below(panels)
    found = []
    for name, stack in by_stack(panels).items():
        for low, high in neighbours(stack):
            keys = [f"{high.mark}/{side + 1}" for side in range(len(high.outline.sides))]
            pairs = [(key, below[key]) for key in keys if below.get(key) in pieces and key in pieces]
            if pairs:
                found.append(_change(name, low, high, pairs, pieces))
    return found


def _change(
    stack: str, low: Panel, high: Panel, pairs: Sequence[tuple[str, str]], pieces: Mapping[str, Sequence[str]]
) -> LevelChange:
    sides, swapped, added, left = [], 0, 0, 0
    for key, under in pairs:
        out = Counter(pieces[under]) - Counter(pieces[key])
        into = Counter(pieces[key]) - Counter(pieces[under])
        if not changed(pieces[under], pieces[key]):
            continue
        swapped += min(out.total(), into.total())
        added += max(0, into.total() - out.total())
        left += max(0, out.total() - into.total())
        sides.append(SideChange(int(key.rpartition("/")[2]), _listed(out), _listed(into)))
    return LevelChange(stack, high.level, high.mark, low.mark, swapped, added, left, tuple(sides))


def _listed(codes: Counter[str]) -> tuple[str, ...]:
    return tuple(f"{count} x {code}" if count > 1 else code for code, count in sorted(codes.items()))


def _count(number: int) -> str:
    return WORDS[number] if number < len(WORDS) else str(number)
