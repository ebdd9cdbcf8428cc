"""The cut list of a job: panels into runs and needs by the yard's take-off rules, with everything to flag."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from inventory.models import GearType
from jobs.models import Job, TakeOffRule
from jobs.planning.brackets import Spacing
from jobs.planning.cut_list import PourList, SendLine, job_list, pour_lists, pour_names, send_lines
from jobs.planning.findings import Finding
from jobs.planning.inserts import Insert, brackets_on_inserts, without_insert
from jobs.planning.moving import check_order
from jobs.planning.panels import Panel
from jobs.planning.pours import check_cast_day
from jobs.planning.rules import Rule, check_rules
from jobs.planning.runs import RunRules, closed_runs_of_all, runs_of
from jobs.planning.site_made import FormShape, site_made_runs
from jobs.planning.stacks import StackChecks, check_stacks, not_cleaned
from jobs.planning.takeoff import Takeoff, TakeoffRequest, panels_above, take_off
from jobs.selectors.articles import sendable, type_for
from jobs.selectors.panels import planned_panels
from jobs.selectors.pours import Programme, cast_uncleaned, panels_without_inserts, programme_of


@dataclass(frozen=True)
class CutList:
    """The take-off, what to send beside the forms, and the flags; its lists per pour and summed where asked for."""

    takeoff: Takeoff
    send: tuple[SendLine, ...]
    findings: tuple[Finding, ...]
    rules: tuple[Rule, ...]
    types: tuple[GearType, ...]

    @cached_property
    def pours(self) -> Sequence[str]:
        return pour_names(self.takeoff)

    def of_pours(self, names: Collection[str]) -> tuple[PourList, ...]:
        return pour_lists(self.takeoff, names)

    @cached_property
    def total(self) -> PourList:
        return job_list(self.takeoff)


def take_off_rules() -> tuple[Rule, ...]:
    """The yard's rules that are switched on."""
    return tuple(rule_of(row) for row in TakeOffRule.objects.filter(off=False).select_related("type"))


def rule_of(row: TakeOffRule) -> Rule:
    spacing = None
    if row.spacing_mm:
        spacing = Spacing(row.spacing_mm, row.end_distance_mm or 0, row.least, row.clear_of_joint_mm)
    return Rule(
        code=row.name,
        what=row.type.code if row.type else row.what,
        per=row.per,  # type: ignore[arg-type]
        levels=row.levels,  # type: ignore[arg-type]
        quantity=row.quantity,
        spacing=spacing,
        by_type=row.type is not None,
        sets_positions=row.sets_positions,
        used_up=row.used_up,
        spare_percent=row.spare_percent,
    )


def run_rules(job: Job) -> RunRules:
    return RunRules(
        corner_allowance_mm=job.corner_allowance_mm,
        max_overrun_mm=job.max_overrun_mm,
        filler_mm=job.max_filler_mm,
        form_width_mm=job.form_width_mm,
    )


def longest_forms() -> dict[int, int]:
    """The longest edge form of each section in the catalogue, in mm."""
    longest: dict[int, int] = {}
    forms = GearType.objects.filter(kind=GearType.Kind.EDGE_FORM, withdrawn=False)
    for section, length in forms.values_list("section_mm", "length_mm"):
        if section and length:
            longest[section] = max(length, longest.get(section, 0))
    return longest


def site_made(job: Job, panels: Iterable[Panel]) -> frozenset[str]:
    """Keys of closed runs that no lengths of the catalogue fit, whatever the stock."""
    shapes: dict[int, set[FormShape]] = defaultdict(set)
    forms = GearType.objects.filter(kind=GearType.Kind.EDGE_FORM, withdrawn=False)
    for section, length, splayed in forms.values_list("section_mm", "length_mm", "splayed_ends"):
        if section and length:
            shapes[section].add(FormShape(length, splayed))
    return site_made_runs(closed_runs_of_all(panels, run_rules(job)), shapes, job.max_pieces_per_run)


def cut_list(
    job: Job,
    pieces: Mapping[str, Sequence[int]] | None = None,
    impossible: Collection[str] = (),
    programme: Programme | None = None,
    stacks: Collection[str] | None = None,
) -> CutList:
    """The cut list of a job, or of some of its stacks as if they were all of it. `pieces` are the lengths of composed
    runs from the seat, by the run's key; `impossible` are runs that a cover check found nothing for."""
    programme, rules = programme or programme_of(job), take_off_rules()
    panels = planned_panels(job, stacks)
    fixed, unused = fixed_brackets(job, panels)
    takeoff = take_off(_asked(job, panels, rules, fixed, impossible, pieces or {}))
    sent = send_lines(takeoff, rules, {name: pour.held for name, pour in programme.days.items()})
    found = (*check_rules(rules), *takeoff.findings, *unused, *inserts_missing(takeoff))
    types = tuple(sendable())
    flags = (*_without_type(sent, types), *_flags(job, takeoff, programme))
    return CutList(takeoff, sent, (*found, *flags), rules, types)


def take_off_asked(job: Job, impossible: Collection[str] = ()) -> TakeoffRequest:
    """What the take-off of a whole job is asked, before its runs are composed."""
    panels = planned_panels(job)
    return _asked(job, panels, take_off_rules(), fixed_brackets(job, panels)[0], impossible, {})


def _asked(
    job: Job,
    panels: Sequence[Panel],
    rules: Sequence[Rule],
    fixed: Mapping[str, tuple[int, ...]],
    impossible: Collection[str],
    pieces: Mapping[str, Sequence[int]],
) -> TakeoffRequest:
    return TakeoffRequest(
        panels=panels,
        rules=rules,
        run_rules=run_rules(job),
        crews=job.crews,
        pieces=pieces,
        longest_mm=longest_forms(),
        fixed_brackets=fixed,
        site_made=site_made(job, panels) | set(impossible),
    )


def fixed_brackets(job: Job, panels: Sequence[Panel]) -> tuple[dict[str, tuple[int, ...]], list[Finding]]:
    """Bracket positions that inserts already cast give the panels above them, by run; and inserts under no run."""
    cast = dict(job.panels.filter(inserts__isnull=False).values_list("mark", "inserts"))
    above, by_mark = panels_above(panels), {panel.mark: panel for panel in panels}
    fixed: dict[str, tuple[int, ...]] = {}
    findings: list[Finding] = []
    for lower, stored in cast.items():
        if lower in above:
            upper = by_mark[above[lower]]
            inserts = [Insert(side, along) for side, along in stored or ()]
            below, rules = by_mark[lower], run_rules(job)
            at, unused = brackets_on_inserts(below, upper, runs_of(upper, rules), inserts, runs_of(below, rules))
            fixed |= at
            findings += unused
    return fixed, findings


def inserts_missing(takeoff: Takeoff) -> list[Finding]:
    """Brackets of panels above the first level that no insert can be put in for."""
    items = {item.panel.mark: item for item in takeoff.panels}
    found: list[Finding] = []
    for item in takeoff.panels:
        if item.above is not None:
            upper = items[item.above]
            found += without_insert(item.panel, upper.panel, upper.runs, upper.brackets)
    return found


def _without_type(sent: Iterable[SendLine], types: Sequence[GearType]) -> list[Finding]:
    """Articles that no one type of the catalogue answers: they can be neither checked nor sent."""
    return [
        Finding(
            "article-without-type",
            f"No one type of the catalogue is meant by “{line.what}”: choose it in its take-off rule, or it is neither "
            "checked nor loaded.",
            line.what,
        )
        for line in sent
        if line.send and type_for(line.what, line.by_type, types) is None
    ]


def _flags(job: Job, takeoff: Takeoff, programme: Programme) -> list[Finding]:
    """What is wrong with the stacks and with their days."""
    panels = [item.panel for item in takeoff.panels]
    settings = StackChecks(max_step_in_mm=job.max_step_in_mm, max_overhang_mm=job.max_overhang_mm)
    found = check_stacks(panels, settings, panels_without_inserts(job, programme.cast))
    found += check_order(panels, programme.days)
    if settings.cast_twice_without_cleaning and programme.cast:
        found += [not_cleaned(labels, name) for name, labels in cast_uncleaned(job).items()]
    for name, pour in programme.days.items():
        found += check_cast_day(name, pour.cast, programme.calendar)
    return found
