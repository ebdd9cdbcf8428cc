"""The cut list: a take-off summed, per pour and for the job.

Runs are counted by section and length; everything else by what it is. Gear comes back and is used again, so
what a job needs at once is its peak over the half-open days its pours hold it; what stays in the concrete is
needed in full. Spares are added to that, rounded up to whole articles.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from jobs.planning.rules import Rule
from jobs.planning.runs import PanelRun
from jobs.planning.takeoff import Need, Takeoff


@dataclass(frozen=True, slots=True)
class RunLine:
    """So many runs of one section and length, in mm, with how they end."""

    section_mm: int
    length_mm: int
    seats: int
    closed: bool
    count: int


@dataclass(frozen=True, slots=True)
class NeedLine:
    """So many of a kind or type. `at_least` until every run it hangs on is composed."""

    what: str
    by_type: bool
    quantity: int
    at_least: bool


@dataclass(frozen=True, slots=True)
class PourList:
    """The cut list of one pour, or of the whole job (`pour` empty)."""

    pour: str
    runs: tuple[RunLine, ...]
    needs: tuple[NeedLine, ...]

    @property
    def run_metres(self) -> Decimal:
        """All its runs together, in metres."""
        return Decimal(sum(line.length_mm * line.count for line in self.runs)) / 1000


@dataclass(frozen=True, slots=True)
class SendLine:
    """What a job needs of a kind or type: summed, at once, and to send with spares."""

    what: str
    by_type: bool
    total: int
    at_once: int
    send: int
    at_least: bool
    used_up: bool


def pour_names(takeoff: Takeoff) -> list[str]:
    """Every pour that has a panel, in order of name."""
    return sorted({item.panel.pour for item in takeoff.panels})


def pour_lists(takeoff: Takeoff, names: Collection[str] | None = None) -> tuple[PourList, ...]:
    """One cut list for each pour, or for those named alone, in order of name."""
    runs: dict[str, list[PanelRun]] = defaultdict(list)
    needs: dict[str, list[Need]] = defaultdict(list)
    for item in takeoff.panels:
        if names is None or item.panel.pour in names:
            runs[item.panel.pour] += item.runs
            needs[item.panel.pour] += item.needs
    return tuple(PourList(pour, _run_lines(runs[pour]), _need_lines(needs[pour])) for pour in sorted(runs))


def job_list(takeoff: Takeoff) -> PourList:
    """The sum over the job, crews' tools included."""
    return PourList("", _run_lines(takeoff.runs), _need_lines(takeoff.needs))


def send_lines(takeoff: Takeoff, rules: Sequence[Rule], days: Mapping[str, tuple[date, date]]) -> tuple[SendLine, ...]:
    """What to send beside the edge forms, spares added. `days` is [from, until) of each pour.

    A pour without days holds its gear throughout. A rule that uses up its gear needs the sum.

    >>> from jobs.planning.outline import rectangle
    >>> from jobs.planning.panels import Panel
    >>> from jobs.planning.takeoff import TakeoffRequest, take_off
    >>> rule = Rule("clamps", "corner clamp", "corner", spare_percent=Decimal(10))
    >>> panels = [Panel(mark, rectangle(6000, 3000), 150, pour=mark) for mark in ("A", "B")]
    >>> days = {"A": (date(2027, 3, 1), date(2027, 3, 4)), "B": (date(2027, 3, 4), date(2027, 3, 8))}
    >>> line, = send_lines(take_off(TakeoffRequest(panels, [rule])), [rule], days)
    >>> line.total, line.at_once, line.send
    (8, 4, 5)
    """
    by_code = {rule.code: rule for rule in rules}
    groups: dict[tuple[str, bool], list[Need]] = defaultdict(list)
    for need in takeoff.needs:
        groups[need.what, need.by_type].append(need)
    return tuple(_send_line(what, by_type, needs, by_code, days) for (what, by_type), needs in groups.items())


def _send_line(
    what: str,
    by_type: bool,
    needs: Sequence[Need],
    rules: Mapping[str, Rule],
    days: Mapping[str, tuple[date, date]],
) -> SendLine:
    total = sum((need.quantity for need in needs), Decimal(0))
    used_up = any(rules[need.rule].used_up for need in needs)
    at_once = total if used_up else peak([(need.quantity, days.get(need.pour)) for need in needs])
    spare = max(rules[need.rule].spare_percent for need in needs)
    send = math.ceil(at_once + at_once * spare / 100)
    at_least = any(need.at_least for need in needs)
    return SendLine(what, by_type, math.ceil(total), math.ceil(at_once), send, at_least, used_up)


def peak(held: Iterable[tuple[Decimal, tuple[date, date] | None]]) -> Decimal:
    """The greatest sum held on any day; each is held on [from, until), or throughout when None.

    >>> peak([(Decimal(2), (date(2027, 3, 1), date(2027, 3, 3))), (Decimal(3), None),
    ...       (Decimal(4), (date(2027, 3, 3), date(2027, 3, 5)))])
    Decimal('7')
    """
    base = Decimal(0)
    steps: dict[date, Decimal] = defaultdict(Decimal)
    for quantity, span in held:
        if span is None:
            base += quantity
            continue
        steps[span[0]] += quantity
        steps[span[1]] -= quantity
    greatest = level = base
    for day in sorted(steps):
        level += steps[day]
        greatest = max(greatest, level)
    return greatest


def _run_lines(runs: Iterable[PanelRun]) -> tuple[RunLine, ...]:
    counted = Counter((run.section_mm, run.length_mm, run.seats, run.closed) for run in runs)
    order = sorted(counted, key=lambda key: (key[0], -key[1], key[2:]))
    return tuple(RunLine(*key, counted[key]) for key in order)


def _need_lines(needs: Iterable[Need]) -> tuple[NeedLine, ...]:
    quantities: dict[tuple[str, bool], Decimal] = defaultdict(Decimal)
    open_ended: set[tuple[str, bool]] = set()
    for need in needs:
        quantities[need.what, need.by_type] += need.quantity
        if need.at_least:
            open_ended.add((need.what, need.by_type))
    return tuple(
        NeedLine(*key, math.ceil(quantity), key in open_ended)
        for key, quantity in quantities.items()
        if quantity or key in open_ended
    )
