"""Small requests for the cover check, built in a line, and the slow ways to answer them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import combinations_with_replacement, permutations, product

from jobs.planning.answer import ComposedRun
from jobs.planning.checker import faults_of, measures_of
from jobs.planning.request import CoverRequest, PieceType, Rules, Run

FIRST = date(2027, 3, 1)
RULES = Rules(100, 900, 3, piece_handling_mm=300, joint_handling_mm=200)


def day(number: int) -> date:
    """Day `number` of the job, from 0."""
    return FIRST + timedelta(days=number)


def form(length: int, splayed: int = 1, *steps: tuple[int, int], section: int = 150) -> PieceType:
    """A type with its stock as (day number, count) steps; plenty if none are given."""
    on_hand = tuple((day(since), count) for since, count in steps or ((0, 1000),))
    return PieceType(f"{section}-{length}-{splayed}", section, length, splayed, on_hand)


def run(length: int, start: int = 0, until: int = 3, *, seats: int = 1, section: int = 150, **bounds: int) -> Run:
    """A run on days [start, until); name it by `numbered`."""
    return Run("P", "?", section, length, day(start), day(until), seats, **bounds)


def asked(pieces: Sequence[PieceType], runs: Sequence[Run], rules: Rules = RULES, ask: str = "plan") -> CoverRequest:
    """A request with its runs numbered as sides of one pour."""
    numbered = tuple(
        Run(
            item.pour,
            str(at),
            item.section_mm,
            item.length_mm,
            item.start,
            item.until,
            item.seats,
            item.corner_allowance_mm,
            item.max_overrun_mm,
        )
        for at, item in enumerate(runs, 1)
    )
    return CoverRequest(rules, tuple(pieces), numbered, ask)  # type: ignore[arg-type]


def every_choice(request: CoverRequest, item: Run) -> list[tuple[str, ...]]:
    """Each multiset of codes that some order makes a legal run of, as the checker judges it: no model used."""
    found = []
    codes = [piece.code for piece in request.pieces]
    for count in range(1, request.rules.max_pieces_per_run + 1):
        for chosen in combinations_with_replacement(codes, count):
            alone = CoverRequest(request.rules, request.pieces, (item,))
            orders = set(permutations(chosen))
            legal = [
                order for order in sorted(orders) if not faults_of(alone, [ComposedRun(item.pour, item.side, order)])
            ]
            if legal:
                found.append(legal[0])
    return found


def best_by_trying_all(request: CoverRequest) -> tuple[int, int] | None:
    """Least shortage and then least cost over every combination of choices; None where a run has none."""
    choices = [every_choice(request, item) for item in request.runs]
    if not all(choices):
        return None
    return min(_worth(request, combination) for combination in product(*choices))


def _worth(request: CoverRequest, combination: Sequence[tuple[str, ...]]) -> tuple[int, int]:
    made = tuple(_made(request.runs, combination))
    found = measures_of(request, made)
    return found.short_mm, found.cost_mm


def _made(runs: Sequence[Run], combination: Sequence[tuple[str, ...]]) -> Iterator[ComposedRun]:
    for item, codes in zip(runs, combination, strict=True):
        yield ComposedRun(item.pour, item.side, codes)
