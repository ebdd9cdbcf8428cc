"""Room for a plan: whole numbers for what may be in use at most and be short of, and the runs of the day that matters
most in whole numbers too; all other runs stay in fractions that fit.

Nearly all of the cost is made on few days. Once those are settled together with the greatest uses, what is left is a
plain question for runs that have some play: can they be made of so many pieces of each type on each day, with so
few joints. A dive finds most rooms soon. Greatest uses that leave more are sought by a solver, with all or nearly all
runs in fractions; where stock leaves few rooms it finds the cheapest, and with it a bound.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from jobs.planning.dive import Dive, Manner
from jobs.planning.limits import Limits
from jobs.planning.linear import linear_of, scope_of
from jobs.planning.model import IntArray
from jobs.planning.program import INFINITE, BoolArray, FloatArray, Program
from jobs.planning.relax import Relaxation
from jobs.planning.whole import UNSEARCHED, Outcome, settled

# What choices may cost beyond the relaxation, by turn, in the core and elsewhere: few are soon looked through.
_REACHES_MM = ((150.0, 80.0), (150.0, 160.0), (300.0, 300.0))
_REST_MM = 150.0
_PICK_MM = 6.0
_PEAK_MM = 12.0
_STIRS = 3
_RETURNS = 1
ALIKE = 0.6
# Of the weight of all days, what a day must have to be settled, by turn: the fullest alone, each that matters.
_SHARES = (1.0, 0.1)
_STIR = 0.5
_PLENTY = 1_000_000
_TINY = 1e-5
_HALF = 0.5
_EASY_MM = 20.0
_NODES = 400
_GAP_MM = 40.0
_SOUGHT_MM = (80.0, 40.0, 150.0)
_LEAVING = 0.6
_ABOUT = 1.0
_DEAR = 0.01
_CORE_MM = 1_000.0
_OWN_MM = 400.0


@dataclass(frozen=True)
class Room:
    """`most` is (types, days), how many pieces may be in use; their greatest uses cost `spent`. `core` says which
    groups are settled, as in `picks`, and `day` about which day. `prices` is (types, days), what one piece more of room
    would save, `reduced` what taking a choice would cost beyond `value`, which is what all of it comes to in mm. `dive`
    stands at it."""

    most: IntArray
    spent: int
    core: BoolArray
    day: int
    picks: IntArray
    prices: FloatArray
    reduced: FloatArray
    value: float
    dive: Dive

    @property
    def least(self) -> float:
        """The least that a plan which keeps within it can cost: joints are whole."""
        step = self.dive.program.section.joint_price
        joints = self.value - self.spent
        return self.spent + step * math.ceil(joints / step - _TINY) if step else self.value


def room_for(
    program: Program, found: Relaxation, most_short: int | None, most: float, turn: int, limits: Limits
) -> Room | None:
    """Room near `found` for a plan at most `most_short` short that costs at most `most`; other room each `turn`.
    None where none was soon found."""
    core, day = _core(program, found, turn)
    reach = np.where(core[program.group], *_REACHES_MM[turn // len(_SHARES) % len(_REACHES_MM)])
    columns = np.nonzero((found.reduced <= reach) | (program.rank(found.reduced) < 2))[0]
    dive = Dive(program, columns, most_short, limits, core)
    stir = turn // len(_SHARES) % _STIRS
    dive.stirred(turn, stir * _PICK_MM, stir * _PEAK_MM)
    manner = Manner(shuffle=turn, alike=ALIKE, most=most, returns=_RETURNS)
    if dive.settled(manner) is None or not _uses_settled(dive, most) or dive.calmed() in (None, INFINITE):
        return None
    room = _room(dive, core, day)
    return room if room.least <= most else None


def cheapest_room(
    program: Program, found: Relaxation, most_short: int | None, enough: float, limits: Limits
) -> tuple[Room | None, float]:
    """The cheapest room with the fullest day in whole numbers, or the best that was found, and a lower bound in mm on
    the cost of plans at most `most_short` short, no better than `enough`."""
    core, day = _core(program, found, 0)
    reach = max(enough - found.bound, 0.0)
    columns = np.nonzero((found.reduced <= reach) | (program.rank(found.reduced) < 2))[0]
    whole = core[program.group[columns]]
    linear = linear_of(program, scope_of(program, columns, most_short))
    outcome = settled(linear, limits, nodes=_NODES, gap_mm=_GAP_MM, whole=whole, enough=enough, options=UNSEARCHED)
    bound = max(found.bound, min(outcome.bound, found.bound + reach))
    if outcome.values is None or limits.over():
        return None, bound
    taken = outcome.values[: len(columns)]
    keep = (found.reduced[columns] <= _REST_MM) | (program.rank(found.reduced)[columns] < 2) | (taken > _TINY)
    dive = Dive(program, columns[keep], most_short, limits, core)
    standing = np.rint(np.concatenate([taken[keep], outcome.values[len(columns) : -1]]))
    for at in [*np.nonzero(dive.mine)[0], *range(len(dive.columns), len(standing))]:
        dive.bound(int(at), float(standing[at]), float(standing[at]))
    value = dive.relaxed()
    return (None if value is None or value == INFINITE else _room(dive, core, day)), bound


def sought_room(
    program: Program, found: Relaxation, most_short: int | None, most: float, turn: int, limits: Limits
) -> Room | None:
    """Room near `found` for a plan at most `most_short` short, its greatest uses sought by a solver next to where the
    relaxation has them, together with the runs of the core on every other `turn`. It may cost a little more than
    `most`: a plan is then had at least. None where none was soon found."""
    core, day = _core(program, found, turn)
    wide = np.nonzero((found.reduced <= _REST_MM) | (program.rank(found.reduced) < 2))[0]
    dive = Dive(program, wide, most_short, limits, core)
    if dive.relaxed() in (None, INFINITE):
        return None
    reach = _SOUGHT_MM[turn // 2 % len(_SOUGHT_MM)]
    columns = wide[(found.reduced[wide] <= reach) | (program.rank(found.reduced)[wide] < 2)]
    outcome = _uses_sought(dive, columns, core & bool(turn % 2), found.bound + _LEAVING * (most - found.bound), turn)
    if outcome.values is None or outcome.value > most + _DEAR * found.bound:
        return None
    for use, number in enumerate(np.rint(outcome.values[len(columns) : -1]), len(wide)):
        dive.bound(use, float(number), float(number))
    if turn % 2:
        taken = np.zeros(program.picks)
        taken[columns] = np.rint(outcome.values[: len(columns)])
        for at in np.nonzero(dive.mine)[0]:
            dive.bound(int(at), float(taken[wide[at]]), float(taken[wide[at]]))
        value = dive.relaxed()
    else:
        most = max(most, outcome.value + _CORE_MM)
        value = dive.settled(Manner(shuffle=turn, alike=ALIKE, most=most, returns=_RETURNS))
    return None if value is None or value == INFINITE else _room(dive, core, day)


def own_room(
    program: Program, found: Relaxation, most_short: int | None, picks: IntArray, most: float, limits: Limits
) -> Room | None:
    """Room with the greatest uses and lacks of a plan in hand, so that there is a plan in it; where nothing in it can
    cost at most `most`, with fewer. None where that cannot either, or no time."""
    columns = np.nonzero((found.reduced <= _OWN_MM) | (program.rank(found.reduced) < 2) | (picks > 0))[0]
    dive = Dive(program, columns, most_short, limits)
    usage = program.usage(picks)
    lacks = np.where(program.limiting, (usage - program.section.on_hand).max(axis=1).clip(0), 0)
    uses = np.concatenate([usage.max(axis=1, initial=0), lacks])
    for lowest in (1, 0):
        for at, number in enumerate(uses, len(columns)):
            dive.bound(at, float(lowest * number), float(number))
        value = dive.relaxed()
        if value is None:
            return None
        if value <= most and (lowest or _uses_settled(dive, most)):
            break
    else:
        return None
    return _room(dive, np.zeros(len(program.runs), dtype=bool), int(found.prices.sum(axis=0).argmax()))


def _uses_sought(dive: Dive, columns: IntArray, core: BoolArray, enough: float, turn: int) -> Outcome:
    """Greatest uses and lacks in whole numbers, where nothing lacks each next to where the dive's relaxation has it,
    and the runs of `core`; until what all comes to is `enough`."""
    program = dive.program
    linear = linear_of(program, scope_of(program, columns, dive.most_short))
    near, about = dive.every[len(dive.columns) : -1], INFINITE if core.any() or dive.most_short else _ABOUT
    part = slice(len(columns), linear.count - 1)
    lower, upper = np.array(linear.model.col_lower_), np.array(linear.model.col_upper_)
    lower[part] = np.maximum(lower[part], np.floor(near + _TINY) - about)
    upper[part] = np.minimum(upper[part], np.ceil(near - _TINY) + about)
    linear.model.col_lower_, linear.model.col_upper_ = lower, upper
    return settled(
        linear,
        dive.limits,
        nodes=_NODES,
        gap_mm=_EASY_MM,
        whole=core[program.group[columns]],
        target=enough,
        options={"random_seed": turn, "mip_heuristic_run_rins": False},
    )


def _core(program: Program, found: Relaxation, turn: int) -> tuple[BoolArray, int]:
    """The groups of the days that matter most, or of the one that does, and which one does; on later turns of such as
    may."""
    weight = found.prices.sum(axis=0)
    if turn:
        weight = weight * (1.0 + _STIR * np.random.default_rng(turn).random(len(weight)))
    share = _SHARES[turn % len(_SHARES)]
    days = weight >= min(share * weight.sum(), weight.max())
    sums = np.concatenate([[0], days.cumsum()])
    core: BoolArray = sums[program.after] > sums[program.first]
    return core, int(weight.argmax())


def _uses_settled(dive: Dive, most: float) -> bool:
    """Settle lacks and greatest uses, the one furthest from whole in mm first, each the way that costs less, or the
    nearer one if that costs hardly anything; whether that was done in time at `most` or less."""
    now = float(dive.highs.getInfo().objective_function_value)
    while (at := _furthest(dive)) is not None:
        number = float(dive.every[at])
        below, above = (0.0, float(np.floor(number))), (float(np.ceil(number)), INFINITE)
        best, best_bounds = INFINITE, above
        for bounds in (below, above) if number % 1.0 < _HALF else (above, below):
            dive.bound(at, *bounds)
            value = dive.relaxed()
            if value is None:
                return False
            if value < best:
                best, best_bounds = value, bounds
            if value <= now + _EASY_MM:
                break
        if best > most:
            return False
        if best_bounds != bounds:
            dive.bound(at, *best_bounds)
            if dive.relaxed() is None:
                return False
        now = best
    return True


def _furthest(dive: Dive) -> int | None:
    lengths = dive.program.section.lengths
    for part in (dive.linear.lacks, dive.linear.peaks):
        off = np.abs(dive.every[part] - np.rint(dive.every[part])) * lengths
        if (off > _TINY * lengths).any():
            return int(part.start) + int(off.argmax())
    return None


def _room(dive: Dive, core: BoolArray, day: int) -> Room:
    """The room that a settled dive stands at, with the runs about `day` settled."""
    program, section, linear = dive.program, dive.program.section, dive.linear
    duals = np.array(dive.highs.getSolution().row_dual)
    peaks, lacks = (np.rint(dive.every[part]).astype(np.int64) for part in (linear.peaks, linear.lacks))
    stock = np.where(program.limiting[:, None], section.on_hand + lacks[:, None], _PLENTY)
    prices = np.maximum(-duals[linear.usage_rows], 0.0)
    worth, taken = np.zeros(len(program.runs)), np.zeros(program.picks)
    worth[linear.groups] = duals[: len(linear.groups)]
    taken[dive.columns] = dive.values
    return Room(
        most=np.minimum(peaks[:, None], stock),
        spent=int(section.price @ peaks),
        core=core,
        day=day,
        picks=np.rint(np.where(core[program.group], taken, 0.0)).astype(np.int64),
        prices=prices,
        reduced=program.joint_cost + program.priced(prices) - worth[program.group],
        value=float(dive.highs.getInfo().objective_function_value),
        dive=dive,
    )
