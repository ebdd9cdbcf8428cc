"""Room for a plan: whole numbers for what may be in use at most and be short of, and the runs of the day that matters
most in whole numbers too; all other runs stay in fractions that fit.

Nearly all of the cost is made on few days. Once those are settled together with the greatest uses, what is left is a
plain question for runs that have some play: can they be made of so many pieces of each type on each day, with so
few joints.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from jobs.planning.dive import Dive, Manner
from jobs.planning.limits import Limits
from jobs.planning.model import IntArray
from jobs.planning.program import INFINITE, BoolArray, FloatArray, Program
from jobs.planning.relax import Relaxation

_REACH_MM = 300.0
_REST_MM = 150.0
_RETURNS = 4
# Of the weight of all days, what a day must have to be settled, by turn: the fullest alone, each that matters, none.
_SHARES = (1.0, 0.1, 2.0)
_STIR = 0.5
_PLENTY = 1_000_000
_TINY = 1e-5


@dataclass(frozen=True)
class Room:
    """`most` is (types, days), how many pieces may be in use; their greatest uses cost `spent`. `core` says which
    groups are settled, as in `picks`; `likely` is what the others take in fractions (both over the program's columns).
    `prices` is (types, days), what one piece more of room would save, `reduced` what taking a choice would cost
    beyond `value`, which is what all of it comes to in mm."""

    most: IntArray
    spent: int
    core: BoolArray
    picks: IntArray
    likely: FloatArray
    prices: FloatArray
    reduced: FloatArray
    value: float


def room_for(
    program: Program, found: Relaxation, most_short: int | None, worth: float, turn: int, limits: Limits
) -> Room | None:
    """Room near `found` for a plan at most `most_short` short, itself worth `worth` if that is soon found, else more;
    other room each `turn`. None where time ran out."""
    core = _core(program, found, turn)
    reach = np.where(core[program.group], _REACH_MM, _REST_MM)
    columns = np.nonzero((found.reduced <= reach) | (program.rank(found.reduced) < 2))[0]
    dive = Dive(program, columns, most_short, limits, core)
    manner = Manner(shuffle=turn, most=worth, returns=_RETURNS)
    if dive.settled(manner) is None and dive.settled(replace(manner, most=INFINITE)) is None:
        return None
    return _room(dive, core) if _uses_settled(dive) else None


def _core(program: Program, found: Relaxation, turn: int) -> BoolArray:
    """The groups of the days that matter most, or of the one that does; on later turns of such as may."""
    weight = found.prices.sum(axis=0)
    if turn:
        weight = weight * (1.0 + _STIR * np.random.default_rng(turn).random(len(weight)))
    share = _SHARES[turn % len(_SHARES)]
    days = weight >= min(share * weight.sum(), max(share, 1.0) * weight.max())
    sums = np.concatenate([[0], days.cumsum()])
    core: BoolArray = sums[program.after] > sums[program.first]
    return core


def _uses_settled(dive: Dive) -> bool:
    """Settle lacks and greatest uses, the one furthest from whole in mm first, each the way that costs less; whether
    time was enough."""
    while (at := _furthest(dive)) is not None:
        below, above = (0.0, float(np.floor(dive.every[at]))), (float(np.ceil(dive.every[at])), INFINITE)
        best, best_bounds = INFINITE, above
        for bounds in (below, above):
            dive.bound(at, *bounds)
            value = dive.relaxed()
            if value is None:
                return False
            if value < best:
                best, best_bounds = value, bounds
        dive.bound(at, *best_bounds)
        if dive.relaxed() is None:
            return False
    return True


def _furthest(dive: Dive) -> int | None:
    lengths = dive.program.section.lengths
    for part in (dive.linear.lacks, dive.linear.peaks):
        off = np.abs(dive.every[part] - np.rint(dive.every[part])) * lengths
        if (off > _TINY * lengths).any():
            return int(part.start) + int(off.argmax())
    return None


def _room(dive: Dive, core: BoolArray) -> Room:
    """The room that a settled dive stands at."""
    program, section, linear = dive.program, dive.program.section, dive.linear
    duals = np.array(dive.highs.getSolution().row_dual)
    peaks, lacks = (np.rint(dive.every[part]).astype(np.int64) for part in (linear.peaks, linear.lacks))
    stock = np.where(program.limiting[:, None], section.on_hand + lacks[:, None], _PLENTY)
    prices = np.maximum(-duals[linear.usage_rows], 0.0)
    worth, likely = np.zeros(len(program.runs)), np.zeros(program.picks)
    worth[linear.groups] = duals[: len(linear.groups)]
    likely[dive.columns] = dive.values
    return Room(
        most=np.minimum(peaks[:, None], stock),
        spent=int(section.price @ peaks),
        core=core,
        picks=np.rint(np.where(core[program.group], likely, 0.0)).astype(np.int64),
        likely=likely,
        prices=prices,
        reduced=program.joint_cost + program.priced(prices) - worth[program.group],
        value=float(dive.highs.getInfo().objective_function_value),
    )
