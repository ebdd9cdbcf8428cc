"""The take-off: from panels, run rules and take-off rules to what every panel needs.

Before runs are composed their pieces and joints are unknown: what hangs on them is then a lower bound, from
the longest form there is, and every line that may grow says `at_least`. Given the pieces of each run, the
counts are exact. Runs of edge form are listed as runs; rules count everything else. A closed run that no
pieces fit (`site_made`) is shown, never counted.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import cached_property

from jobs.planning.brackets import MovedBracket, bracket_positions, check_brackets, moved_brackets, moved_words
from jobs.planning.corners import check_corners, clamps_of
from jobs.planning.findings import Finding
from jobs.planning.laying import JOINT_FROM_SEAT_MM, LaidRun, check_laid, lay
from jobs.planning.panels import Panel, check_openings, repeated_marks
from jobs.planning.rules import Rule, applies, position_rule, sound_rules
from jobs.planning.runs import PanelRun, RunRules, runs_of


@dataclass(frozen=True, slots=True)
class Need:
    """So many of a kind (or of a type, with `by_type`) for one panel, by one rule."""

    panel: str
    pour: str
    rule: str
    what: str
    quantity: Decimal
    at_least: bool = False
    by_type: bool = False


@dataclass(frozen=True)
class PanelTakeoff:
    """A panel with its runs, their pieces where known, and by the key of each run its bracket positions and those of
    them that a joint has moved."""

    panel: Panel
    runs: tuple[PanelRun, ...]
    laid: Mapping[str, LaidRun]
    brackets: Mapping[str, tuple[int, ...]]
    above: str | None
    needs: tuple[Need, ...] = ()
    findings: tuple[Finding, ...] = ()
    moved: Mapping[str, tuple[MovedBracket, ...]] = field(default_factory=dict)

    @property
    def composed(self) -> bool:
        """Whether the pieces of every run that has any are known."""
        return len(self.laid) == len(self.runs)

    @cached_property
    def positions(self) -> int:
        """How many bracket positions its runs have together."""
        return sum(len(places) for places in self.brackets.values())


@dataclass(frozen=True)
class Takeoff:
    """Every panel's take-off, what a job needs once (`crew_needs`), and everything to flag."""

    panels: tuple[PanelTakeoff, ...]
    crew_needs: tuple[Need, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def runs(self) -> tuple[PanelRun, ...]:
        """Every run, site-made ones left out."""
        return tuple(run for item in self.panels for run in item.runs)

    @property
    def needs(self) -> tuple[Need, ...]:
        """Every need, panels first."""
        return (*(need for item in self.panels for need in item.needs), *self.crew_needs)


@dataclass(frozen=True)
class TakeoffRequest:
    """What a take-off depends on. `pieces` gives the lengths of composed runs by key, listed from the seat.

    `longest_mm` is the longest form of each section, for bounds before that; `fixed_brackets` are the
    positions of runs that stand on inserts already cast; `site_made` are keys of sides made up on site.
    """

    panels: Sequence[Panel]
    rules: Sequence[Rule]
    run_rules: RunRules = field(default_factory=RunRules)
    crews: int = 1
    pieces: Mapping[str, Sequence[int]] = field(default_factory=dict)
    longest_mm: Mapping[int, int] = field(default_factory=dict)
    fixed_brackets: Mapping[str, Sequence[int]] = field(default_factory=dict)
    site_made: Collection[str] = ()
    joint_from_seat_mm: int = JOINT_FROM_SEAT_MM


def take_off(request: TakeoffRequest) -> Takeoff:
    """Runs, bracket positions, needs and findings of every panel. A faulty rule counts nothing: `check_rules`
    says why."""
    request = replace(request, rules=sound_rules(request.rules))
    above = panels_above(request.panels)
    shapes = {panel.mark: _shape(panel, request, above.get(panel.mark)) for panel in request.panels}
    panels = tuple(_with_needs(shapes[panel.mark], shapes, request) for panel in request.panels)
    findings = [*repeated_marks(request.panels), *(finding for item in panels for finding in item.findings)]
    return Takeoff(panels, _crew_needs(request), tuple(findings))


def panels_above(panels: Sequence[Panel]) -> dict[str, str]:
    """For each panel that has one on it, the mark of the panel on the next level that is filled."""
    stacks: dict[str, list[Panel]] = defaultdict(list)
    for panel in panels:
        stacks[panel.stack_name].append(panel)
    return {
        low.mark: min(higher, key=lambda panel: panel.level).mark
        for stack in stacks.values()
        for low in stack
        if (higher := [panel for panel in stack if panel.level > low.level])
    }


def _shape(panel: Panel, request: TakeoffRequest, above: str | None) -> PanelTakeoff:
    every = runs_of(panel, request.run_rules)
    runs = tuple(run for run in every if run.key not in request.site_made) if request.site_made else every
    chosen = ((run, request.pieces.get(run.key)) for run in runs)
    laid = {run.key: lay(run, lengths) for run, lengths in chosen if lengths}
    rule = position_rule(request.rules, panel.level, above is not None)
    brackets: dict[str, tuple[int, ...]] = {}
    moved: dict[str, tuple[MovedBracket, ...]] = {}
    findings = [*check_openings(panel), *check_corners(panel), *_site_made(every, request.site_made)]
    for run in runs:
        key = run.key
        found = laid.get(key)
        if found is not None:
            findings += check_laid(found, request.joint_from_seat_mm)
        if rule is not None and rule.spacing is not None:
            fixed = request.fixed_brackets.get(key)
            places = bracket_positions(run, rule.spacing, found) if fixed is None else tuple(sorted(fixed))
            brackets[key] = places
            findings += check_brackets(run, places, rule.spacing, found)
            if found is not None and fixed is None:
                moved[key] = moved_brackets(run, places, rule.spacing, found)
                findings += [moved_words(run, one) for one in moved[key]]
    return PanelTakeoff(panel, runs, laid, brackets, above, findings=tuple(findings), moved=moved)


def _site_made(runs: Sequence[PanelRun], site_made: Collection[str]) -> list[Finding]:
    return [
        Finding(
            "site-made",
            f"Side {run.side + 1} of panel {run.panel} is made up on site, and is not counted as covered.",
            f"panel {run.panel}, side {run.side + 1}",
            "note",
            run.panel,
            run.side,
        )
        for run in runs
        if run.key in site_made
    ]


def _with_needs(item: PanelTakeoff, shapes: Mapping[str, PanelTakeoff], request: TakeoffRequest) -> PanelTakeoff:
    above = shapes[item.above] if item.above else None
    needs = [
        need
        for rule in request.rules
        if rule.per != "crew" and applies(rule, item.panel.level, above is not None)
        for need in _need(rule, item, above, request)
    ]
    return replace(item, needs=tuple(needs))


def _need(rule: Rule, item: PanelTakeoff, above: PanelTakeoff | None, request: TakeoffRequest) -> list[Need]:
    if rule.spacing is not None:
        counted, at_least = _spaced(rule, item)
    else:
        units, at_least = _units(rule, item, above, request)
        counted = rule.quantity * units
    if counted == 0 and not at_least:
        return []
    panel = item.panel
    return [Need(panel.mark, panel.pour, rule.code, rule.what, counted, at_least, rule.by_type)]


def _spaced(rule: Rule, item: PanelTakeoff) -> tuple[Decimal, bool]:
    assert rule.spacing is not None
    if rule.sets_positions:
        places = item.positions
    else:
        places = sum(len(bracket_positions(run, rule.spacing, item.laid.get(run.key))) for run in item.runs)
    return rule.quantity * places, not item.composed


def _units(rule: Rule, item: PanelTakeoff, above: PanelTakeoff | None, request: TakeoffRequest) -> tuple[Decimal, bool]:
    """How many units a rule finds on a panel, and whether that is only a lower bound."""
    if rule.per == "bracket position":
        return Decimal(item.positions), not item.composed
    if rule.per == "bracket position above":
        return (Decimal(above.positions), not above.composed) if above else (Decimal(0), False)
    if rule.per in ("piece", "joint"):
        laid = sum(len(found.pieces) for found in item.laid.values())
        pieces = laid if item.composed else sum(_pieces(run, item, request) for run in item.runs)
        return Decimal(pieces - (len(item.runs) if rule.per == "joint" else 0)), not item.composed
    if rule.per == "metre":
        return Decimal(sum(run.length_mm for run in item.runs)) / 1000, False
    if rule.per == "corner":
        return Decimal(clamps_of(item.panel.outline)), False
    return Decimal(len(item.runs) if rule.per == "run" else 1), False


def _pieces(run: PanelRun, item: PanelTakeoff, request: TakeoffRequest) -> int:
    """The pieces of a run, or the fewest that could make it."""
    if run.key in item.laid:
        return len(item.laid[run.key].pieces)
    longest = request.longest_mm.get(run.section_mm, 0)
    return max(1, -(-run.least_mm // longest)) if longest else 1


def _crew_needs(request: TakeoffRequest) -> tuple[Need, ...]:
    return tuple(
        Need("", "", rule.code, rule.what, rule.quantity * request.crews, False, rule.by_type)
        for rule in request.rules
        if rule.per == "crew"
    )
