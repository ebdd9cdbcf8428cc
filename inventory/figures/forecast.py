"""How many pieces of a type will still be fit some months on, with a band; and what that asks to be bought.

From what was seen: the hazard (ends of life and losses for each cast) in bands of uses, and the casts that lie ahead.
What is uncertain is drawn many times over: the hazard of each band from its gamma posterior (Jeffreys), the rate of
use likewise where it is measured and not planned, the survivors among pieces of like uses as a binomial. The band is
the middle 95 % of the draws, widened to whole pieces. Standard statistics; the arrangement is ours.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from inventory.figures.survival import Span

DRAWS = 600
BAND_USES = 10
"""Width of a band of uses; neighbouring bands are joined until each has seen enough."""
LEAST_EXPOSURE = 200
"""Casts a band must have seen before it is told apart from its neighbour."""
TOO_FEW_CASTS = 100
"""With fewer casts seen in all nothing is forecast."""


class Exposure(NamedTuple):
    """In the band of uses [first, until): casts seen, and how many of them ended a piece's service."""

    first: int
    until: int
    casts: int
    ends: int


@dataclass(frozen=True, slots=True)
class Use:
    """Casts of the type ahead of us, a month: `planned` by the programme month by month, as far as it goes; after
    it the rate that was measured, `casts` over `piece_months`."""

    casts: int
    piece_months: float
    planned: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Forecast:
    """Fit pieces so many months on: the mean and the 95 % band [low, high]."""

    months: int
    mean: float
    low: int
    high: int


def exposures(spans: Mapping[Span, int], gone: Mapping[Span, int] | None = None) -> list[Exposure]:
    """Casts seen and services ended in bands of uses.

    spans   pieces by entry, exit and whether they ended (worn out or broken)
    gone    those lost, likewise with `ended` true; a loss ends a piece's service as surely as wear
    """
    all_spans = [*spans.items(), *(gone or {}).items()]
    last = max((span.exit for span, _ in all_spans), default=0)
    edges = [*range(0, last + BAND_USES, BAND_USES)] if last else [0, BAND_USES]
    found = []
    for first, until in zip(edges, edges[1:] or [edges[0] + BAND_USES], strict=False):
        casts = sum(n * max(0, min(s.exit, until) - max(s.entry, first)) for s, n in all_spans)
        ends = sum(n for s, n in all_spans if s.ended and first < max(s.exit, 1) <= until)
        found.append(Exposure(first, until, casts, ends))
    return _joined(found)


def _joined(bands: Sequence[Exposure]) -> list[Exposure]:
    """Neighbours joined, from the first on, until each has seen enough; a meagre last one joins the one before it."""
    found: list[Exposure] = []
    for band in bands:
        if found and found[-1].casts < LEAST_EXPOSURE:
            had = found[-1]
            found[-1] = Exposure(had.first, band.until, had.casts + band.casts, had.ends + band.ends)
        else:
            found.append(band)
    if len(found) > 1 and found[-1].casts < LEAST_EXPOSURE:
        last, had = found.pop(), found.pop()
        found.append(Exposure(had.first, last.until, had.casts + last.casts, had.ends + last.ends))
    return found


def forecast(
    fleet: Mapping[int, int],
    bands: Sequence[Exposure],
    use: Use,
    months: Iterable[int],
    seed: int,
) -> list[Forecast]:
    """Fit pieces at each of `months`; empty where too little was seen.

    fleet   fit pieces now, by the uses they have had
    """
    wanted = sorted(months)
    if sum(band.casts for band in bands) < TOO_FEW_CASTS or use.piece_months <= 0 or not fleet:
        return []
    rng = np.random.default_rng(seed)
    hazards = np.array([rng.gamma(band.ends + 0.5, 1 / max(band.casts, 1), DRAWS) for band in bands])
    rate = rng.gamma(use.casts + 0.5, 1 / use.piece_months, DRAWS)
    return [_at(fleet, bands, hazards, _casts_ahead(use, rate, sum(fleet.values()), n), n, rng) for n in wanted]


def _casts_ahead(use: Use, rate: np.ndarray, pieces: int, months: int) -> np.ndarray:
    """Casts that each piece will see by then, one number a draw: as planned, then at the measured rate."""
    planned = use.planned[:months]
    ahead: np.ndarray = np.full(DRAWS, sum(planned) / pieces) + rate * (months - len(planned))
    return ahead


def _at(
    fleet: Mapping[int, int],
    bands: Sequence[Exposure],
    hazards: np.ndarray,
    ahead: np.ndarray,
    months: int,
    rng: np.random.Generator,
) -> Forecast:
    """Casts on a piece come at random, so that it outlives them with probability exp(-hazard summed over them)."""
    uses, counts = np.array(sorted(fleet.items())).T[:, :, np.newaxis]
    summed = np.zeros((len(fleet), DRAWS))
    for at, band in enumerate(bands):
        until = np.inf if at == len(bands) - 1 else band.until
        start = np.maximum(uses, band.first) if at else uses
        summed += hazards[at] * np.clip(np.minimum(uses + ahead, until) - start, 0, None)
    fit = rng.binomial(counts, np.exp(-summed)).sum(axis=0)
    low, high = np.quantile(fit, [0.025, 0.975])
    return Forecast(months, float(fit.mean()), int(np.floor(low)), int(np.ceil(high)))


class Buy(NamedTuple):
    """So many to buy before the month in which fit pieces fall below what is needed."""

    pieces: int
    by_month: int


def to_buy(need: int, now: int, ahead: Sequence[Forecast]) -> Buy | None:
    """The fewest to buy so that even the low end of the last forecast meets the need; by the first month that falls
    short on the mean. None where nothing falls short or nothing is forecast.

    >>> to_buy(100, 104, [Forecast(3, 101.0, 97, 103), Forecast(6, 97.5, 92, 101)])
    Buy(pieces=8, by_month=6)
    """
    if not ahead:
        return None
    short = [each.months for each in ahead if each.mean < need]
    if now < need:
        short = [0, *short]
    count = need - ahead[-1].low
    return Buy(count, short[0]) if short and count > 0 else None
