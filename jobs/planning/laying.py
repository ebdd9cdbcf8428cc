"""The pieces of a composed run laid along it: where each begins and ends, and where the joints fall.

Positions are whole mm along the run from its start, walking anti-clockwise; what lies before 0 or beyond the
run's length is overrun, what is missing of a closed run is filler. Pieces are listed from the seat, or from
the held end of a run that does not seat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate, pairwise, permutations

from jobs.planning.findings import Finding, metres
from jobs.planning.runs import PanelRun

JOINT_FROM_SEAT_MM = 150
MOST_ORDERED = 6


@dataclass(frozen=True)
class LaidRun:
    """A run with its pieces in place: `pieces` are (start, end), in the order of the side."""

    run: PanelRun
    pieces: tuple[tuple[int, int], ...]

    @property
    def total_mm(self) -> int:
        """What the pieces total."""
        return self.pieces[-1][1] - self.pieces[0][0]

    @cached_property
    def joints(self) -> tuple[int, ...]:
        """Where two pieces meet."""
        return tuple(end for _, end in self.pieces[:-1])

    @property
    def from_seat(self) -> tuple[tuple[int, int], ...]:
        """The pieces as they are told, by distances from the end they are laid from, the first piece first."""
        reckoned = self.run.reckoning
        return tuple(sorted((min(ends), max(ends)) for ends in (tuple(map(reckoned.of, each)) for each in self.pieces)))

    @property
    def over_mm(self) -> int:
        """What the pieces have beyond the side; negative is filler."""
        return self.total_mm - self.run.length_mm


def lay(run: PanelRun, lengths: Sequence[int]) -> LaidRun:
    """Lay pieces of those lengths, listed from the seat, along a run.

    >>> from jobs.planning.outline import rectangle
    >>> from jobs.planning.panels import Panel
    >>> from jobs.planning.runs import RunRules, runs_of
    >>> side = runs_of(Panel("A1", rectangle(7200, 3000), 150), RunRules())[0]
    >>> laid = lay(side, [4000, 3500])
    >>> laid.pieces, laid.joints, laid.over_mm
    (((0, 4000), (4000, 7500)), (4000,), 300)
    """
    ends = [0, *accumulate(lengths)]
    if run.laid_from == "end":
        ends = [run.length_mm - mm for mm in reversed(ends)]
    return LaidRun(run, tuple(pairwise(ends)))


def check_laid(laid: LaidRun, joint_from_seat_mm: int = JOINT_FROM_SEAT_MM) -> list[Finding]:
    """Findings on the total length and on joints too near a seat."""
    return [*_check_total(laid), *_check_joints(laid, joint_from_seat_mm)]


def best_order(
    run: PanelRun, lengths: Sequence[int], splayed_ends: Sequence[int], joint_from_seat_mm: int = JOINT_FROM_SEAT_MM
) -> tuple[int, ...]:
    """The places of the pieces in the order that keeps most joints clear of the seats; as given where none is better.

    Joints stay square to square and every end that seats stays splayed: only the outermost may have a splayed end.

    >>> from jobs.planning.outline import rectangle
    >>> from jobs.planning.panels import Panel
    >>> from jobs.planning.runs import RunRules, runs_of
    >>> side = runs_of(Panel("A1", rectangle(7200, 3000), 150), RunRules())[0]
    >>> best_order(side, [3000, 4150, 1000], [1, 0, 0])
    (0, 2, 1)
    """
    places = range(len(lengths))
    if len(lengths) < 2 or len(lengths) > MOST_ORDERED:
        return tuple(places)
    legal = [order for order in permutations(places) if _meets(run, [splayed_ends[at] for at in order])]
    near = {
        order: len(_check_joints(lay(run, [lengths[at] for at in order]), joint_from_seat_mm))
        for order in (tuple(places), *legal)
    }
    return min(near, key=lambda order: (near[order], order))


def _meets(run: PanelRun, splayed_ends: Sequence[int]) -> bool:
    """Whether pieces in this order, several of them, have square joints and splayed ends where the run seats."""
    if any(splayed_ends[1:-1]) or max(splayed_ends) > 1:
        return False
    return splayed_ends[0] >= min(run.seats, 1) and splayed_ends[-1] >= max(run.seats - 1, 0)


def _check_total(laid: LaidRun) -> list[Finding]:
    run = laid.run
    if run.least_mm <= laid.total_mm <= run.greatest_mm:
        return []
    return [
        _finding(
            laid,
            "run-length",
            f"The pieces total {metres(laid.total_mm)}; this run takes {metres(run.least_mm)} "
            f"to {metres(run.greatest_mm)}.",
        )
    ]


def _check_joints(laid: LaidRun, near_mm: int) -> list[Finding]:
    found: list[Finding] = []
    for seat in seats_along(laid.run) if laid.joints else ():
        for joint in laid.joints:
            if abs(joint - seat) < near_mm:
                found.append(
                    _finding(
                        laid,
                        "joint-near-seat",
                        f"{_near_words(laid.run, joint, seat)}; keep it {near_mm} mm away. Change the order of the "
                        "pieces or their lengths.",
                    )
                )
    return found


def _near_words(run: PanelRun, joint_mm: int, seat_mm: int) -> str:
    """How near a joint is to a seat: its own, or that of the next run where this one passes."""
    reckoned, off = run.reckoning, abs(joint_mm - seat_mm)
    if reckoned.of(seat_mm) == 0:
        return f"The joint is {off} mm from {reckoned.origin}"
    passes = (run.end if seat_mm else run.start) == "passes"
    seat = "the corner it passes, where the next run seats" if passes else "its other seat"
    return f"The joint {reckoned.told(joint_mm)} is {off} mm from {seat}"


def seats_along(run: PanelRun) -> list[int]:
    """Where a seat bears on the run: its own ends that seat, and where it passes, the next run's seat."""
    at = [(run.start, 0), (run.end, run.length_mm)]
    return [mm for end, mm in at if end in ("seats", "passes")]


def _finding(laid: LaidRun, code: str, sentence: str) -> Finding:
    run = laid.run
    return Finding(code, sentence, f"panel {run.panel}, side {run.side + 1}", "warn", run.panel, run.side)
