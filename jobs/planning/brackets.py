"""Where the form brackets stand along a run.

Per run max(2, 1 + ceil((side - 2 x end distance) / spacing)). Once its pieces are known: at least one on
every piece, none on a joint, one within the end distance of each joint. Spacing and end distance are the
greatest allowed and are the maker's and the engineer's to give; this module only keeps to them.

The positions are the fewest that keep every rule, found by going along the run and putting each bracket as
far on as the rules allow; then the spacing is tightened as far as that number of brackets lets it, so that
they stand evenly. Positions are whole mm along the run from its start; sentences tell them from the seat.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from jobs.planning.findings import Finding
from jobs.planning.laying import LaidRun
from jobs.planning.reckoning import Reckoning
from jobs.planning.runs import PanelRun

Interval = tuple[int, int]
# A code and a sentence: what is wrong, on whichever run it is.
Fault = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Spacing:
    """Greatest spacing, greatest distance of the first and last from the ends and of one from each joint,
    the least number on a run, and the least distance from a joint; all but `least` in mm."""

    greatest_mm: int
    end_mm: int
    least: int = 2
    clear_of_joint_mm: int = 50


def bracket_count(side_mm: int, spacing: Spacing) -> int:
    """How many brackets a run needs before its pieces are known.

    >>> every = Spacing(greatest_mm=1200, end_mm=300)
    >>> [bracket_count(mm, every) for mm in (400, 3000, 3001, 6000)]
    [2, 3, 4, 6]
    """
    between = -(-(side_mm - 2 * spacing.end_mm) // spacing.greatest_mm)
    return max(spacing.least, 1 + between)


def bracket_positions(run: PanelRun, spacing: Spacing, laid: LaidRun | None = None) -> tuple[int, ...]:
    """Positions of the brackets of a run, evenly spread; clear of joints where its pieces are given.

    Where the rules cannot all be kept (a piece shorter than a bracket needs), what can be kept is, and
    `check_brackets` says what is not.

    >>> from jobs.planning.outline import rectangle
    >>> from jobs.planning.panels import Panel
    >>> from jobs.planning.laying import lay
    >>> from jobs.planning.runs import RunRules, runs_of
    >>> side = runs_of(Panel("A1", rectangle(6000, 3000), 150), RunRules())[0]
    >>> bracket_positions(side, Spacing(1200, 300))
    (300, 1380, 2460, 3540, 4620, 5700)
    >>> bracket_positions(side, Spacing(1200, 300), lay(side, [3500, 2500]))
    (300, 1384, 2468, 3552, 4636, 5720)
    """
    return _positions(run.length_mm, spacing, None if laid is None else laid.pieces)


@lru_cache(maxsize=20_000)
def _positions(side_mm: int, spacing: Spacing, pieces: tuple[Interval, ...] | None) -> tuple[int, ...]:
    """The same for every run of that length and those pieces: a job has thousands of runs and few of these."""
    wanted, barred = _wanted(side_mm, spacing, pieces), _barred(spacing, pieces)
    greatest = _greatest_gap(side_mm, spacing)
    fewest = _walk(wanted, barred, greatest)
    low, high = _least_spacing(side_mm, len(fewest), spacing), greatest
    while low < high:
        middle = (low + high) // 2
        tried = _walk(wanted, barred, middle)
        if len(tried) <= len(fewest) and _widest(tried) <= middle:
            high = middle
        else:
            low = middle + 1
    return tuple(_walk(wanted, barred, high))


def check_brackets(
    run: PanelRun, positions: Sequence[int], spacing: Spacing, laid: LaidRun | None = None
) -> list[Finding]:
    """A finding for each rule that these positions break: they may be fixed by what is already cast."""
    pieces = None if laid is None else laid.pieces
    return [_finding(run, *fault) for fault in _faults(run.reckoning, tuple(positions), spacing, pieces)]


@lru_cache(maxsize=20_000)
def _faults(
    along: Reckoning, positions: tuple[int, ...], spacing: Spacing, pieces: tuple[Interval, ...] | None
) -> tuple[Fault, ...]:
    found = [*_check_ends(along, positions, spacing), *_check_gaps(along, positions, spacing)]
    if pieces is not None:
        found += [*_check_pieces(along, pieces, positions), *_check_joints(along, pieces, positions, spacing)]
    return tuple(found)


@dataclass(frozen=True, slots=True)
class MovedBracket:
    """A bracket that would stand on a joint were the run one piece: where that is, where it stands, the joint; mm."""

    plain_mm: int
    stands_mm: int
    joint_mm: int


def moved_brackets(
    run: PanelRun, positions: Sequence[int], spacing: Spacing, laid: LaidRun
) -> tuple[MovedBracket, ...]:
    """The brackets that a joint has moved.

    >>> from jobs.planning.outline import rectangle
    >>> from jobs.planning.panels import Panel
    >>> from jobs.planning.laying import lay
    >>> from jobs.planning.runs import RunRules, runs_of
    >>> every = Spacing(1200, 300)
    >>> side = runs_of(Panel("A1", rectangle(6000, 3000), 150), RunRules())[0]
    >>> laid = lay(side, [3500, 2500])
    >>> moved_brackets(side, bracket_positions(side, every, laid), every, laid)
    (MovedBracket(plain_mm=3540, stands_mm=3552, joint_mm=3500),)
    """
    return _moved(run.length_mm, tuple(positions), spacing, laid.pieces)


@lru_cache(maxsize=20_000)
def _moved(
    side_mm: int, positions: tuple[int, ...], spacing: Spacing, pieces: tuple[Interval, ...]
) -> tuple[MovedBracket, ...]:
    found, joints = [], _joints(pieces)
    for plain in _positions(side_mm, spacing, None):
        joint = next((mm for mm in joints if abs(plain - mm) < spacing.clear_of_joint_mm), None)
        if joint is not None and positions and plain not in positions:
            found.append(MovedBracket(plain, min(positions, key=lambda mm: (abs(mm - plain), mm)), joint))
    return tuple(found)


def moved_words(run: PanelRun, moved: MovedBracket) -> Finding:
    """A note that says it."""
    along = run.reckoning
    sentence = (
        f"On side {run.side + 1} of panel {run.panel} the bracket {along.told(moved.plain_mm)} would stand on the "
        f"joint at {along.of(moved.joint_mm):,} mm: it is moved to {along.of(moved.stands_mm):,} mm."
    )
    where = f"panel {run.panel}, side {run.side + 1}"
    return Finding("bracket-moved", sentence, where, "note", run.panel, run.side)


def end_distance(side_mm: int, spacing: Spacing) -> int:
    """How far the first and the last may stand from the ends: less on a short side, so that two brackets
    do not stand on one spot, yet never so near that the count would grow."""
    gaps = bracket_count(side_mm, spacing) - 1
    least = -(-(side_mm - gaps * spacing.greatest_mm) // 2)
    return max(0, least, min(spacing.end_mm, side_mm // 4))


def _least_spacing(side_mm: int, brackets: int, spacing: Spacing) -> int:
    """No spacing under this can reach from end to end with that many brackets."""
    return max(1, (side_mm - 2 * spacing.end_mm) // max(1, brackets - 1))


def _wanted(side_mm: int, spacing: Spacing, pieces: tuple[Interval, ...] | None) -> list[Interval]:
    """Stretches that must each have a bracket."""
    end = end_distance(side_mm, spacing)
    wanted = [(0, end), (side_mm - end, side_mm)]
    wanted += [(joint - spacing.end_mm, joint + spacing.end_mm) for joint in _joints(pieces)]
    return wanted + [_on_side(piece, side_mm) for piece in pieces or ()]


def _joints(pieces: tuple[Interval, ...] | None) -> list[int]:
    return [end for _, end in (pieces or ())[:-1]]


def _greatest_gap(side_mm: int, spacing: Spacing) -> int:
    """The greatest spacing, or less where a short run must still have the least number."""
    between = side_mm - 2 * end_distance(side_mm, spacing)
    return max(1, min(spacing.greatest_mm, -(-between // max(1, spacing.least - 1))))


def _on_side(piece: Interval, side_mm: int) -> Interval:
    """The part of a piece that lies along the side, where a bracket holds it best; all of it if none."""
    start, end = max(piece[0], 0), min(piece[1], side_mm)
    return (start, end) if start < end else piece


def _barred(spacing: Spacing, pieces: tuple[Interval, ...] | None) -> list[Interval]:
    clear = spacing.clear_of_joint_mm
    return [(joint - clear, joint + clear) for joint in _joints(pieces)]


def _walk(wanted: list[Interval], barred: list[Interval], spacing_mm: int) -> list[int]:
    """Each as far on as the spacing and the next stretch that has none allow, clear of what is barred."""
    positions: list[int] = []
    missing = wanted
    while missing:
        first = positions[-1] + 1 if positions else min(start for start, _ in missing)
        limit = min(end for _, end in missing)
        if positions:
            limit = max(first, min(limit, positions[-1] + spacing_mm))
        spot = _clear_spot(first, limit, barred)
        positions.append(spot)
        # What begins no farther on has one now, or is passed for good.
        missing = [stretch for stretch in missing if stretch[0] > spot]
    return positions


def _clear_spot(first: int, limit: int, barred: list[Interval]) -> int:
    """The last clear place in [first, limit]; failing that the first one after it."""
    back = limit
    for start, end in sorted(barred, reverse=True):
        if start < back < end:
            back = start
    if back >= first:
        return back
    ahead = limit
    for start, end in sorted(barred):
        if start < ahead < end:
            ahead = end
    return ahead


def _widest(positions: Sequence[int]) -> int:
    return max((b - a for a, b in pairwise(positions)), default=0)


def _check_ends(along: Reckoning, positions: Sequence[int], spacing: Spacing) -> Iterator[Fault]:
    if len(positions) < spacing.least:
        yield "bracket-count", f"This run has {len(positions)} brackets; it needs at least {spacing.least}."
        return
    reckoned = sorted(map(along.of, positions))
    for name, mm in ((along.origin, reckoned[0]), ("the far end of the run", along.length_mm - reckoned[-1])):
        if mm > spacing.end_mm:
            yield "bracket-end", f"No bracket within {spacing.end_mm} mm of {name}."


def _check_gaps(along: Reckoning, positions: Sequence[int], spacing: Spacing) -> Iterator[Fault]:
    for a, b in pairwise(positions):
        if b - a > spacing.greatest_mm:
            yield (
                "bracket-spacing",
                f"The brackets {along.told(a, b)} are {b - a} mm apart; "
                f"the most is {spacing.greatest_mm} mm. Add one between.",
            )


def _check_pieces(along: Reckoning, pieces: Sequence[Interval], positions: Sequence[int]) -> Iterator[Fault]:
    for start, end in pieces:
        if not any(start <= at <= end for at in positions):
            near, far = sorted((along.of(start), along.of(end)))
            yield (
                "piece-without-bracket",
                f"No bracket on the piece from {near:,} to {far:,} mm from {along.origin}: add one, or join "
                "differently.",
            )


def _check_joints(
    along: Reckoning, pieces: tuple[Interval, ...], positions: Sequence[int], spacing: Spacing
) -> Iterator[Fault]:
    for joint in _joints(pieces):
        nearest = min((abs(at - joint) for at in positions), default=spacing.end_mm + 1)
        if nearest < spacing.clear_of_joint_mm:
            yield "bracket-on-joint", f"A bracket stands on the joint {along.told(joint)}."
        if nearest > spacing.end_mm:
            yield "joint-without-bracket", f"No bracket within {spacing.end_mm} mm of the joint {along.told(joint)}."


def _finding(run: PanelRun, code: str, sentence: str) -> Finding:
    return Finding(code, sentence, f"panel {run.panel}, side {run.side + 1}", "warn", run.panel, run.side)
