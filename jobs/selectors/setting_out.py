"""The setting-out sheet of a pour: for each side its pieces in order from the seat, by tag where it is known, with
the distances of joints, brackets and inserts, and what changes from the level below.

Distances are from the end of the side that its pieces are laid from, which is named by the side round that corner.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from jobs.models import Job, Panel, Pour
from jobs.planning.drawing import draw_panel
from jobs.planning.findings import Finding
from jobs.planning.inserts import InsertPlace, inserts_for
from jobs.planning.laying import LaidRun
from jobs.planning.runs import PanelRun
from jobs.planning.takeoff import PanelTakeoff, Takeoff
from jobs.selectors.cutlist import cut_list
from jobs.selectors.levels import LevelChange, level_changes
from jobs.selectors.panels import planned, reading_order
from jobs.selectors.planned import codes_planned, lengths_of
from jobs.selectors.pours import Programme, programme_of
from jobs.selectors.sheet_tags import IN_IT, sheet_tags

ENDS = {"seats": "where it seats", "passes": "which it passes", "stops": "where it stops", "free": "where it is free"}


@dataclass(frozen=True)
class Set:
    """One piece of a side: its type, its tag where it is known, and from where to where it stands, mm along."""

    code: str
    label: str
    start_mm: int
    end_mm: int


@dataclass(frozen=True)
class SideSheet:
    """One side as it is set out, `side_mm` long; all distances in mm from the end of its run that the pieces are laid
    from. `near` and `far` are the sides round the corners there and at the other end.

    `moved` are brackets that a joint has moved: the joint, and where the bracket stands. `cast_below` is the panel on
    whose inserts, cast already, the brackets stand; empty where they may still be chosen.
    """

    run: PanelRun
    side_mm: int
    near: int
    far: int
    pieces: tuple[Set, ...]
    joints: tuple[int, ...]
    brackets: tuple[int, ...]
    inserts: tuple[int, ...]
    over_mm: int
    moved: tuple[tuple[int, int], ...] = ()
    cast_below: str = ""

    @property
    def number(self) -> int:
        return self.run.side + 1

    @property
    def words(self) -> str:
        """From which corner to which, such as "From the corner with side 4, where it seats, to ..."."""
        run = self.run
        ends = (run.start, run.end) if run.laid_from == "start" else (run.end, run.start)
        (near, far) = (ENDS[end] for end in ends)
        said = f"From the corner with side {self.near}, {near}, to the corner with side {self.far}, {far}."
        if not run.starts_mm:
            return said
        held = run.laid_from == "start"
        verb, before = ("begins", "from") if held else ("ends", "before")
        corner = self.near if held else self.far
        off = f"The run {verb} {run.starts_mm} mm {before} the corner with side {corner}, beside the forms of that side"
        return f"{said} {off}; distances count from there." if held else f"{said} {off}."

    @property
    def beyond(self) -> tuple[str, str] | None:
        """Overrun or filler at the far end, with how much; None where the pieces end with the side."""
        if not self.pieces or not self.over_mm:
            return None
        if self.over_mm > 0:
            return "Overrun", f"{self.over_mm:,} mm past the corner with side {self.far}"
        return "Filler", f"{-self.over_mm:,} mm at the corner with side {self.far}"


@dataclass(frozen=True)
class PanelSheet:
    panel: Panel
    drawing: str
    sides: tuple[SideSheet, ...]
    change: LevelChange | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class PourSheet:
    """`over` once its gear has been stripped and moved on."""

    panels: tuple[PanelSheet, ...]
    tags_from: str
    over: bool = False

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
    programme, codes = programme or programme_of(job), codes_planned(job)
    every = list(job.panels.select_related("pour"))
    of_pour = {pour.pk: [panel for panel in every if panel.pour_id == pour.pk] for pour in pours}
    stacks = {panel.stack for panels in of_pour.values() for panel in panels}
    takeoff = cut_list(job, lengths_of(codes), programme=programme, stacks=stacks).takeoff
    items = {item.panel.mark: item for item in takeoff.panels}
    changes = {change.panel: change for change in level_changes([item.panel for item in takeoff.panels], codes)}
    tags = sheet_tags(job, [planned(panel) for panel in every], codes, programme)
    met = _Met(items, takeoff, codes, tags.labels, changes, _cast(every, programme))
    found = []
    for pour in pours:
        panels = sorted(of_pour[pour.pk], key=_as_listed)
        keys = [run.key for panel in panels for run in items[panel.mark].runs]
        shown = [panel for panel in panels if level in {None, panel.level}]
        tags_from = tags.source(pour.name, keys)
        over = pour.name in programme.cast and tags_from != IN_IT
        found.append(PourSheet(tuple(_panel(panel, met) for panel in shown), tags_from, over))
    return found


def _as_listed(panel: Panel) -> tuple[list[tuple[bool, int, str]], int, list[tuple[bool, int, str]]]:
    return reading_order(panel.stack), panel.level, reading_order(panel.mark)


@dataclass(frozen=True)
class _Met:
    """What the sheets of all panels are made from."""

    items: Mapping[str, PanelTakeoff]
    takeoff: Takeoff
    codes: Mapping[str, Sequence[str]]
    labels: Mapping[str, Sequence[str]]
    changes: Mapping[str, LevelChange]
    cast: Collection[str]


def _cast(panels: Sequence[Panel], programme: Programme) -> set[str]:
    """Marks of panels that are cast, so that what stands above them stays on the inserts they have."""
    return {panel.mark for panel in panels if panel.inserts is not None or panel.pour.name in programme.cast}


def _panel(panel: Panel, met: _Met) -> PanelSheet:
    item = met.items[panel.mark]
    below = next((low.panel for low in met.items.values() if low.above == panel.mark), None)
    inserts: Sequence[InsertPlace] = ()
    if item.above is not None:
        upper = met.items[item.above]
        inserts = inserts_for(item.panel, upper.panel, upper.runs, upper.brackets)[0]
    cast_below = below.mark if below is not None and below.mark in met.cast else ""
    sides = tuple(_side(run, item, met, inserts, cast_below) for run in item.runs)
    drawing = draw_panel(item, below, f"panel-{panel.pk}")
    # Moved brackets are said beside their side, measured as everything else on it.
    own = [one for one in met.takeoff.findings if one.panel == panel.mark and one.code != "bracket-moved"]
    return PanelSheet(panel, drawing, sides, met.changes.get(panel.mark), tuple(dict.fromkeys(own)))


def _side(run: PanelRun, item: PanelTakeoff, met: _Met, inserts: Sequence[InsertPlace], cast_below: str) -> SideSheet:
    laid, sides, along = item.laid.get(run.key), item.panel.outline.sides, run.reckoning.of
    own = [one.insert.along_mm - run.starts_mm for one in inserts if one.insert.side == run.side]
    corners = (run.side - 1) % len(sides) + 1, (run.side + 1) % len(sides) + 1
    near, far = corners if run.laid_from == "start" else reversed(corners)
    return SideSheet(
        run,
        sides[run.side].length_mm,
        near,
        far,
        _set(laid, met.codes.get(run.key, ()), met.labels.get(run.key, ())) if laid else (),
        tuple(sorted(map(along, laid.joints))) if laid else (),
        tuple(sorted(map(along, item.brackets.get(run.key, ())))),
        tuple(sorted(map(along, own))),
        laid.over_mm if laid else 0,
        tuple(sorted((along(one.joint_mm), along(one.stands_mm)) for one in item.moved.get(run.key, ()))),
        cast_below,
    )


def _set(laid: LaidRun, codes: Sequence[str], labels: Sequence[str]) -> tuple[Set, ...]:
    if len(laid.pieces) != len(codes):
        return ()
    tags = labels or [""] * len(codes)
    return tuple(Set(code, tag, a, b) for code, tag, (a, b) in zip(codes, tags, laid.from_seat, strict=True))
