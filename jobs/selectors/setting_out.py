"""The setting-out sheet of a pour: for each side its pieces in order from the seat, by tag where it is known, with
the distances of joints, brackets and inserts, and what changes from the level below.

Tags are dealt to the sides in a fixed order: those that stand in the pour; before it is set, those that lie on the
site or were stripped from the level below; before that, those chosen for the job's trucks. A tag that stood in the
side below, by the same dealing, goes up to the side above it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet, prefetch_related_objects

from inventory.lifecycle.kinds import Phase
from inventory.models import Piece
from jobs.models import Job, Panel, Pour
from jobs.planning.drawing import draw_panel
from jobs.planning.findings import Finding
from jobs.planning.inserts import InsertPlace, inserts_for
from jobs.planning.laying import LaidRun
from jobs.planning.runs import PanelRun
from jobs.planning.takeoff import PanelTakeoff, Takeoff
from jobs.selectors.cutlist import cut_list
from jobs.selectors.levels import LevelChange, level_changes
from jobs.selectors.planned import codes_planned, lengths_of
from jobs.selectors.pours import Programme

IN_IT = "in this pour"


@dataclass(frozen=True)
class Set:
    """One piece of a side: its type, its tag where it is known, and from where to where it stands, mm along."""

    code: str
    label: str
    start_mm: int
    end_mm: int


@dataclass(frozen=True)
class SideSheet:
    """One side as it is set out; all distances in mm from the end that the pieces are laid from. `moved` are brackets
    that a joint has moved: the joint, and where the bracket stands."""

    run: PanelRun
    pieces: tuple[Set, ...]
    joints: tuple[int, ...]
    brackets: tuple[int, ...]
    inserts: tuple[int, ...]
    moved: tuple[tuple[int, int], ...] = ()

    @property
    def number(self) -> int:
        return self.run.side + 1

    @property
    def far_end(self) -> str:
        return self.run.end if self.run.laid_from == "start" else self.run.start

    @property
    def near_end(self) -> str:
        return self.run.start if self.run.laid_from == "start" else self.run.end


@dataclass(frozen=True)
class PanelSheet:
    panel: Panel
    drawing: str
    sides: tuple[SideSheet, ...]
    change: LevelChange | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class PourSheet:
    panels: tuple[PanelSheet, ...]
    tags_from: str

    @property
    def is_set(self) -> bool:
        """Whether its gear stands in it."""
        return self.tags_from == IN_IT

    @property
    def composed(self) -> bool:
        return all(side.pieces for panel in self.panels for side in panel.sides)

    @property
    def bare(self) -> bool:
        """Whether no side has its pieces yet."""
        return not any(side.pieces for panel in self.panels for side in panel.sides)


def setting_out(pour: Pour, programme: Programme | None = None) -> PourSheet:
    """The sheet of one pour."""
    return sheets_of(pour.job, [pour], programme)[0]


def sheets_of(
    job: Job, pours: Sequence[Pour], programme: Programme | None = None, level: int | None = None
) -> list[PourSheet]:
    """The sheets of several pours of a job, or of their panels on one level alone; tags are dealt over whole pours."""
    codes = codes_planned(job)
    prefetch_related_objects(pours, "panels")
    stacks = {panel.stack for pour in pours for panel in pour.panels.all()}
    takeoff = cut_list(job, lengths_of(codes), programme=programme, stacks=stacks).takeoff
    items = {item.panel.mark: item for item in takeoff.panels}
    changes = {change.panel: change for change in level_changes([item.panel for item in takeoff.panels], codes)}
    wanted = {code for own in codes.values() for code in own}
    tags = _Tags(job, pours, wanted)
    found = []
    for pour in pours:
        panels = sorted(pour.panels.all(), key=lambda panel: (panel.stack, panel.level, panel.mark))
        keys = [run.key for panel in panels for run in items[panel.mark].runs]
        own, tags_from = tags.of(pour, {code for key in keys for code in codes.get(key, ())})
        dealt = deal({key: codes[key] for key in keys if key in codes}, own)
        shown = [panel for panel in panels if level in {None, panel.level}]
        sheets = [_panel(panel, items, takeoff, codes, dealt, changes.get(panel.mark)) for panel in shown]
        found.append(PourSheet(tuple(sheets), tags_from))
    return found


Labels = dict[str, list[str]]


class _Tags:
    """Labels by type code of the pieces that pours stand in, or will; asked once for all pours."""

    def __init__(self, job: Job, pours: Sequence[Pour], codes: Collection[str]) -> None:
        held = Piece.objects.held().filter(type__code__in=codes)
        stripped = Q(pour__parent=job.site, phase=Phase.STRIPPED)
        self.inside: dict[int | None, Labels] = defaultdict(lambda: defaultdict(list))
        places = [pour.place_id for pour in pours]
        standing = held.filter(pour__in=places).exclude(phase=Phase.STRIPPED).order_by("label")
        for place, code, label in standing.values_list("pour", "type__code", "label"):
            self.inside[place][code].append(label)
        self.on_site = _labels(held.fit().filter(Q(place=job.site, pour=None) | stripped))
        self.chosen = _labels(held.filter(picks__delivery__job=job))

    def of(self, pour: Pour, codes: Collection[str]) -> tuple[Labels, str]:
        """Those of the types, and in words where they were found."""
        sources = ((self.inside[pour.place_id], IN_IT), (self.on_site, "on the site now"))
        for labels, words in (*sources, (self.chosen, "chosen for its trucks")):
            found = {code: labels[code] for code in codes if labels.get(code)}
            if found:
                return found, words
        return {}, ""


def _labels(pieces: QuerySet[Piece]) -> Labels:
    found: Labels = defaultdict(list)
    for code, label in pieces.order_by("label").values_list("type__code", "label").distinct():
        found[code].append(label)
    return found


def deal(codes: Mapping[str, Sequence[str]], tags: Mapping[str, Sequence[str]]) -> dict[str, tuple[str, ...]]:
    """Labels to the pieces of each run, in order; empty where there is none left of a type.

    >>> deal({"A1/1": ("X", "Y"), "A1/2": ("X",)}, {"X": ["T1", "T2"]})
    {'A1/1': ('T1', ''), 'A1/2': ('T2',)}
    """
    left = {code: iter(labels) for code, labels in tags.items()}
    return {key: tuple(next(left.get(code, iter(())), "") for code in own) for key, own in codes.items()}


def _panel(
    panel: Panel,
    items: Mapping[str, PanelTakeoff],
    takeoff: Takeoff,
    codes: Mapping[str, Sequence[str]],
    dealt: Mapping[str, Sequence[str]],
    change: LevelChange | None,
) -> PanelSheet:
    item = items[panel.mark]
    below = next((low.panel for low in items.values() if low.above == panel.mark), None)
    inserts: Sequence[InsertPlace] = ()
    if item.above is not None:
        upper = items[item.above]
        inserts = inserts_for(item.panel, upper.panel, upper.runs, upper.brackets)[0]
    sides = tuple(_side(run, item, codes, dealt, inserts) for run in item.runs)
    drawing = draw_panel(item, below, f"panel-{panel.pk}")
    # Moved brackets are said beside their side, measured as everything else on it.
    own = [one for one in takeoff.findings if one.panel == panel.mark and one.code != "bracket-moved"]
    findings = tuple(dict.fromkeys(own))
    return PanelSheet(panel, drawing, sides, change, findings)


def _side(
    run: PanelRun,
    item: PanelTakeoff,
    codes: Mapping[str, Sequence[str]],
    dealt: Mapping[str, Sequence[str]],
    inserts: Sequence[InsertPlace],
) -> SideSheet:
    laid = item.laid.get(run.key)
    own = [one.insert.along_mm - run.starts_mm for one in inserts if one.insert.side == run.side]
    return SideSheet(
        run,
        _set(laid, codes.get(run.key, ()), dealt.get(run.key, ())) if laid else (),
        tuple(sorted(_from(run, mm) for mm in laid.joints)) if laid else (),
        tuple(sorted(_from(run, mm) for mm in item.brackets.get(run.key, ()))),
        tuple(sorted(_from(run, mm) for mm in own)),
        tuple(sorted((_from(run, one.joint_mm), _from(run, one.stands_mm)) for one in item.moved.get(run.key, ()))),
    )


def _set(laid: LaidRun, codes: Sequence[str], labels: Sequence[str]) -> tuple[Set, ...]:
    spans = laid.pieces if laid.run.laid_from == "start" else tuple(reversed(laid.pieces))
    if len(spans) != len(codes):
        return ()
    ends = [sorted((_from(laid.run, start), _from(laid.run, end))) for start, end in spans]
    return tuple(Set(code, label, a, b) for code, label, (a, b) in zip(codes, labels, ends, strict=True))


def _from(run: PanelRun, mm: int) -> int:
    """A place along the run as its distance from the end that the pieces are laid from."""
    return mm if run.laid_from == "start" else run.length_mm - mm
