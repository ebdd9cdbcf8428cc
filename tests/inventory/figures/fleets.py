"""Simulated fleets with known truth: watched for a while, then forecast, then lived on to see."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.figures.forecast import Use, exposures, forecast
from inventory.figures.survival import Span

WATCHED, AHEAD = 18, 6


@dataclass
class Simulated:
    """One piece: uses it came with, uses so far, and how its service ended ("", "worn", "lost")."""

    entry: int
    uses: int
    ended: str = ""


def _live(piece: Simulated, months: int, rng: random.Random, rate: float, shape: float, scale: float, loss: float):
    for _ in range(months):
        casts = sum(rng.random() < rate / 8 for _ in range(8))
        for _ in range(casts):
            if piece.ended:
                return
            before, piece.uses = piece.uses, piece.uses + 1
            # Weibull wear: the chance to end between one use and the next
            wear = (piece.uses / scale) ** shape - (before / scale) ** shape
            if rng.random() < 1 - 2.718281828459045**-wear:
                piece.ended = "worn"
            elif rng.random() < loss:
                piece.ended = "lost"


def one_fleet(seed: int) -> tuple[int, int, int] | None:
    """(low, truth, high) of the fit pieces six months on; None where too little was seen to forecast."""
    rng = random.Random(seed)
    size, rate = rng.randint(60, 400), rng.uniform(0.8, 4.0)
    shape, scale, loss = rng.uniform(1.0, 2.5), rng.uniform(60, 250), rng.uniform(0, 0.004)
    fleet = []
    for _ in range(size):
        entry = rng.choice([0, 0, rng.randint(0, 40)])
        piece = Simulated(entry, entry)
        _live(piece, WATCHED, rng, rate, shape, scale, loss)
        fleet.append(piece)
    held = [piece for piece in fleet if not piece.ended]
    spans = Counter(Span(p.entry, p.uses, p.ended == "worn") for p in fleet if p.ended != "lost")
    gone = Counter(Span(p.entry, p.uses, True) for p in fleet if p.ended == "lost")
    casts = sum(p.uses - p.entry for p in fleet)
    # like a yard: months in which each piece was on the books, an ended one half of them on average
    months = sum(WATCHED if not p.ended else (p.uses - p.entry) / rate for p in fleet)
    said = forecast(Counter(p.uses for p in held), exposures(spans, gone), Use(casts, months), [AHEAD], seed)
    if not said:
        return None
    for piece in held:
        _live(piece, AHEAD, rng, rate, shape, scale, loss)
    return said[0].low, sum(not piece.ended for piece in held), said[0].high


def back_test(seeds: Iterable[int]) -> tuple[int, int]:
    """How many bands held the truth, of how many forecasts."""
    found = [one for seed in seeds if (one := one_fleet(seed)) is not None]
    return sum(low <= truth <= high for low, truth, high in found), len(found)
