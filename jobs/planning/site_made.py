"""Closed runs that no pieces fit: their sides are made up on site.

A closed run takes pieces of at most its clear length, less no more than the filler allowed. Whether the
lengths in the catalogue can do that is a question of sums, whatever the stock: stock that is short is a
shortage, a side that no lengths fit is site-made, shown and never counted as covered.
The rule on ends is the one composed runs keep: joints are square to square, so of several pieces only the
two outermost may have a splayed end, one at most, pointing outward; every end that seats is splayed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from jobs.planning.runs import PanelRun


@dataclass(frozen=True, slots=True)
class FormShape:
    """A length of edge form, in mm, and how many of its ends are splayed: 0, 1 or 2."""

    length_mm: int
    splayed_ends: int


def site_made_runs(
    runs: Iterable[PanelRun], shapes: Mapping[int, Iterable[FormShape]], most_pieces: int
) -> frozenset[str]:
    """Keys of the closed runs that no pieces of their section fit. `shapes` is by section in mm."""
    by_section = {section: frozenset(found) for section, found in shapes.items()}
    return frozenset(
        run.key
        for run in runs
        if run.closed and not fits(run, by_section.get(run.section_mm, frozenset()), most_pieces)
    )


def fits(run: PanelRun, shapes: Iterable[FormShape], most_pieces: int) -> bool:
    """Whether some of these shapes, as many of each as it takes, make the run.

    >>> from jobs.planning.outline import rectangle
    >>> from jobs.planning.panels import Panel
    >>> from jobs.planning.runs import RunRules, runs_of
    >>> closed = runs_of(Panel("A1", rectangle(3200, 2000, ["form", "solid"] * 2), 150), RunRules(filler_mm=100))[0]
    >>> fits(closed, [FormShape(1000, 0), FormShape(1500, 1)], 4)
    False
    >>> fits(closed, [FormShape(600, 0), FormShape(1000, 0), FormShape(1500, 1)], 4)
    True
    """
    every = list(shapes)
    if any(_alone(run, shape) for shape in every):
        return True
    splayed = {shape.length_mm for shape in every if shape.splayed_ends == 1}
    square = {shape.length_mm for shape in every if shape.splayed_ends == 0}
    first = splayed if run.seats >= 1 else splayed | square
    last = splayed if run.seats == 2 else splayed | square
    totals = {a + b for a in first for b in last if a + b <= run.greatest_mm}
    for _ in range(most_pieces - 1):
        if any(run.least_mm <= total for total in totals):
            return True
        totals = {total + mm for total in totals for mm in square if total + mm <= run.greatest_mm}
    return False


def _alone(run: PanelRun, shape: FormShape) -> bool:
    return shape.splayed_ends >= run.seats and run.least_mm <= shape.length_mm <= run.greatest_mm
