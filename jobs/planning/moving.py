"""Moving a pour: what else moves with it, seen before anything is changed.

A pour moves with everything after it in its stacks, and after those in theirs, by the same number of working
days, so that the gaps between them stay. What is already cast stays where it is and is said so.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from jobs.calendars.working import WorkingCalendar
from jobs.errors import Refused
from jobs.planning.findings import Finding, pour_words
from jobs.planning.panels import Panel
from jobs.planning.pours import PourDays, PourTimes, pour_days


@dataclass(frozen=True, slots=True)
class MovedPour:
    """One pour that moves, before and after."""

    pour: str
    before: PourDays
    after: PourDays


@dataclass(frozen=True)
class Move:
    """What a move does: the pours that move, in order of their new day, and what to look at."""

    moved: tuple[MovedPour, ...]
    working_days: int
    findings: tuple[Finding, ...]


def preview_move(
    pour: str,
    cast: date,
    panels: Sequence[Panel],
    casts: Mapping[str, date],
    times: PourTimes,
    calendar: WorkingCalendar,
    already_cast: Collection[str] = (),
) -> Move:
    """What moving `pour` to be cast on `cast` does. `casts` is the present day of casting of every pour.

    Raises Refused: "unknown-pour", or "already-cast" for a pour that has been cast.
    """
    _refuse_unmovable(pour, casts, already_cast)
    shift = calendar.count(casts[pour], cast)
    following = [name for name in pours_after(pour, panels) if name in casts]
    after = dict(casts) | {pour: cast}
    for name in following:
        if name not in already_cast:
            after[name] = calendar.add(casts[name], shift)
    moved = [
        MovedPour(name, pour_days(casts[name], times, calendar), pour_days(after[name], times, calendar))
        for name in (pour, *following)
        if after[name] != casts[name]
    ]
    findings = [_stays(name) for name in following if name in already_cast]
    findings += check_order(panels, {name: pour_days(day, times, calendar) for name, day in after.items()})
    return Move(tuple(sorted(moved, key=lambda item: (item.after.cast, item.pour))), shift, tuple(findings))


def pours_after(pour: str, panels: Sequence[Panel]) -> list[str]:
    """The pours that stand on a pour, directly or through others, nearest first."""
    onward = _onward(panels)
    found: list[str] = []
    queue = deque([pour])
    while queue:
        for name in sorted(onward[queue.popleft()]):
            if name != pour and name not in found:
                found.append(name)
                queue.append(name)
    return found


def check_order(panels: Sequence[Panel], days: Mapping[str, PourDays]) -> list[Finding]:
    """A finding for each panel set before the one below it is stripped."""
    found = []
    for low, high in _neighbours(panels):
        below, above = days.get(low.pour), days.get(high.pour)
        if below is None or above is None or above.set >= below.strip:
            continue
        sentence = (
            f"Panel {high.mark} is set on {above.set.isoformat()}, before panel {low.mark} below it is "
            f"stripped on {below.strip.isoformat()}: cast it later or strip sooner."
        )
        found.append(Finding("set-before-strip", sentence, f"panel {high.mark}", "warn", high.mark))
    return found


def _onward(panels: Sequence[Panel]) -> dict[str, set[str]]:
    onward: dict[str, set[str]] = defaultdict(set)
    for low, high in _neighbours(panels):
        if low.pour != high.pour:
            onward[low.pour].add(high.pour)
    return onward


def _neighbours(panels: Sequence[Panel]) -> list[tuple[Panel, Panel]]:
    stacks: dict[str, list[Panel]] = defaultdict(list)
    for panel in panels:
        stacks[panel.stack_name].append(panel)
    pairs = []
    for stack in stacks.values():
        stack.sort(key=lambda panel: panel.level)
        pairs += [(low, high) for low, high in pairwise(stack) if low.level < high.level]
    return pairs


def _refuse_unmovable(pour: str, casts: Mapping[str, date], already_cast: Collection[str]) -> None:
    if pour not in casts:
        raise Refused("unknown-pour", f"There is no pour {pour} with a day of casting in this job.")
    if pour in already_cast:
        raise Refused(
            "already-cast", f"{pour_words(pour)} has been cast: its day is what happened and cannot be moved."
        )


def _stays(pour: str) -> Finding:
    return Finding("already-cast", f"{pour_words(pour)} has been cast and stays where it is.", f"pour {pour}")
