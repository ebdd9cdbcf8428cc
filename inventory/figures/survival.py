"""How many uses gear lasts: the product-limit estimate of E. L. Kaplan and P. Meier (1958), with its band.

A piece enters at the uses it came with (0 when new; a part cut from a longer length, the uses of that length) and
leaves at the uses it had when it was worn out or broken (an event), or when it was last looked at (censored: still
held, lost, sold, cut down). Before its entry it is not among those at risk (delayed entry, left truncation).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import exp, log, sqrt
from typing import NamedTuple

from inventory.figures.rates import Z95

TOO_FEW = 10
"""With fewer ends of life than this, no median is said."""

ROUNDING = 1e-9
"""A product of fractions that should be a half may come out a hair above it."""


class Span(NamedTuple):
    """One piece under observation from `entry` uses to `exit` uses; `ended` says that its life ended there."""

    entry: int
    exit: int
    ended: bool


@dataclass(frozen=True, slots=True)
class Step:
    """At so many uses: pieces at risk, ends of life, the share that outlives it, and its 95 % band."""

    uses: int
    at_risk: int
    ends: int
    share: float
    low: float
    high: float
    error: float


@dataclass(frozen=True, slots=True)
class Curve:
    """Steps in order of uses, one for each number of uses at which a life ended; before the first the share is 1."""

    steps: tuple[Step, ...]
    pieces: int
    ends: int
    last: int = 0
    """The most uses at which any piece was still under observation; beyond it nothing is known."""

    @property
    def too_few(self) -> bool:
        return self.ends < TOO_FEW

    @property
    def median(self) -> int | None:
        """The fewest uses that at most half outlive; None while more than half outlive all that was seen."""
        return next((step.uses for step in self.steps if step.share <= 0.5 + ROUNDING), None)

    def at(self, uses: int) -> Step:
        """The step in force at so many uses."""
        found = Step(0, self.pieces, 0, 1.0, 1.0, 1.0, 0.0)
        for step in self.steps:
            if step.uses > uses:
                break
            found = step
        return found


def kaplan_meier(spans: Iterable[Span] | Mapping[Span, int]) -> Curve:
    """The estimate over spans, given singly or as counts of like spans.

    Spans of no length (exit <= entry) with no end say nothing and are left out; who ends at the uses it came with is
    taken to have come half a use before, so that it is at risk when it ends, and so is everyone new at 0. Ends come
    before losses from view at equal uses; who enters at t > 0 is at risk only after t. Greenwood's variance; the band
    is of the log(-log) kind, so that it stays within 0 and 1 (J. D. Kalbfleisch and R. L. Prentice).
    """
    counts = spans if isinstance(spans, Mapping) else Counter(spans)
    enters, leaves, ends = Counter[float](), Counter[int](), Counter[int]()
    pieces = 0
    for span, count in counts.items():
        if span.exit <= span.entry and not span.ended:
            continue
        pieces += count
        enters[min(span.entry or -0.5, span.exit - 0.5)] += count
        leaves[span.exit] += count
        if span.ended:
            ends[span.exit] += count
    return Curve(tuple(_steps(enters, leaves, ends)), pieces, sum(ends.values()), max(leaves, default=0))


def expected_left(curve: Curve, uses: int) -> float | None:
    """Uses a piece that has had so many can be expected to have still, as far as anything was seen to last.

    The area under the curve from `uses` to the last use observed, over the share that outlives `uses` (the restricted
    mean residual life). It never says more than was seen, so it is on the low side while gear is young. None where the
    curve says too little or nothing has lasted so long.
    """
    here = curve.at(uses).share
    if curve.too_few or here <= 0 or uses >= curve.last:
        return None
    area, at, share = 0.0, uses, here
    for step in curve.steps:
        if step.uses > uses:
            area, at, share = area + share * (step.uses - at), step.uses, step.share
    return (area + share * (curve.last - at)) / here


def _steps(enters: Counter[float], leaves: Counter[int], ends: Counter[int]) -> Iterable[Step]:
    moments = sorted({*enters, *leaves})
    at_risk, share, summed = 0, 1.0, 0.0
    waiting = 0  # those that entered at this very moment join those at risk after it
    for moment in moments:
        at_risk, waiting = at_risk + waiting, enters[moment]
        uses = int(moment)
        dead = ends[uses] if uses == moment else 0
        if dead:
            share *= 1 - dead / at_risk
            summed += dead / (at_risk * (at_risk - dead)) if at_risk > dead else 0.0
            yield _step(uses, at_risk, dead, share, summed)
        if uses == moment:
            at_risk -= leaves[uses]


def _step(uses: int, at_risk: int, dead: int, share: float, summed: float) -> Step:
    if share <= 0:
        return Step(uses, at_risk, dead, 0.0, 0.0, 0.0, 0.0)
    error = share * sqrt(summed)
    if share >= 1 or summed == 0:
        return Step(uses, at_risk, dead, share, share, share, error)
    inner = log(-log(share))
    width = Z95 * sqrt(summed) / log(share)
    low, high = exp(-exp(inner - width)), exp(-exp(inner + width))
    return Step(uses, at_risk, dead, share, min(low, high), max(low, high), error)
