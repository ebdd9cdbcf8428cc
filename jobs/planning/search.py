"""Finds a plan for one section and proves how good it is: least shortage first, then least gear cost.

The relaxation proves a bound on each; a bound is lifted to the next value that lengths and handling can add
up to. Plans that fill a room, plans made outward from the days that matter most, and dives from the relaxation
whose windows of days are composed anew, follow in turn until one is within the gap that counts as proved. Two
hands may search side by side, each in ways of its own: no one way is the quickest on every job.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from jobs.planning.answer import PROVED_GAP
from jobs.planning.dive import OVER_COST, Dive, Manner
from jobs.planning.finishing import finished
from jobs.planning.fitting import filled
from jobs.planning.least_cost import cost_of_days
from jobs.planning.least_short import over_all, short_of_all_days, short_of_few_days
from jobs.planning.limits import Limits
from jobs.planning.linear import linear_of, scope_of
from jobs.planning.model import Section
from jobs.planning.outward import Outward
from jobs.planning.program import BoolArray, Program, program_of
from jobs.planning.relax import Relaxation, likely, relaxed
from jobs.planning.rooms import cheapest_room, own_room, room_for, sought_room
from jobs.planning.standing import CostBound, SectionPlan, Standing
from jobs.planning.turns import Place, Turn, turns_of
from jobs.planning.uses import uses_in_whole
from jobs.planning.whole import settled
from jobs.planning.windows import Windows

_MANY = 12_000
_FREE = 60
_NODES = 500
_WHOLE, _ALL, _ALL_NODES = 2_500, 0.8, 5_000
_SHORTER = 1_000
_FEW = 0.1
_OUTWARD, _APART_OUTWARD = 0.6, 0.3
_FIT = 0.6
_ROOM = 0.8
_FILL = 2.5
_TIGHT = 0.4
_SOUGHT = 2.2
_CYCLE, _STRICT = 10, 8
_LAST = 1.5
_PLANS = 4
_HEARD = 1
_WINDOWS = 0.25
# How many choices a dive leaves to be settled together, from stage to stage, and in how many seconds each time.
_REST, _REST_LARGE = ((60, 30, 0), 0.6), ((250, 120, 50, 0), 2.0)
_ALIKE, _AT_ONCE = 0.6, 5
_USES = 0.6
# How near to good enough a large section's dive has to come: days composed anew bring it down from there.
_NEAR_LARGE = 0.001
_COVER = 8
_DAYS = (4, 13, 1_000)
_LIFT = 0.003
_LITTLE = 0.001
_HIGHEST = 0.02
_SECONDS = (1.2, 1.2, 3.0)
_NEARLY = 0.0005
_DIVES, _EASY, _RETURNS, _SHUFFLES = 2, 1e-4, 4, 100


def _nothing() -> None:
    """Nobody searches beside."""


def _no_spare() -> float:
    """There are no other sections."""
    return 0.0


class SectionSearch:
    """The search for one section from its place. `listen()` takes in what others have found; `spare()` is how many mm
    this section may be further from its bound than its own share allows, as others are nearer; below nothing, how many
    it should be nearer, as another lacks them."""

    def __init__(self, section: Section, limits: Limits, place: Place | None = None) -> None:
        self.program: Program = program_of(section)
        self.standing = Standing(self.program)
        self.limits, self.place = limits.also(self._answered), place or Place()
        self.listen: Callable[[], None] = _nothing
        self.spare: Callable[[], float] = _no_spare
        self.name = f"Section {section.types[0].section_mm} mm"
        self.near = likely(self.program)
        self.small = self.program.picks <= _MANY
        self.known: tuple[int, Relaxation] | None = None
        self.lacking: Relaxation | None = None
        self.turns: Sequence[Turn] = ()
        self.begun, self.taken, self.lifts, self.dived = False, 0, 0, _SHUFFLES

    @property
    def plan(self) -> SectionPlan:
        """The best plan so far, with the bounds that hold of it."""
        return self.standing.plan

    @property
    def good(self) -> bool:
        """Shortage proved least and cost near enough to its bound, with what other sections leave."""
        return self.plan.good(self.spare())

    def covered(self) -> SectionPlan:
        """A plan with nothing short, or a proof that there is none, or the best that was found of both."""
        if self.program.limiting.any() and self.plan.short:
            found = self._bound_short()
            if found is not None and self.plan.short_bound == 0 < self.plan.short:
                self._reach_cover()
                self._prove_short(found)
                self._less_short(found, _NODES)
        return self.plan

    def best(self, turns: int | None = None) -> SectionPlan:
        """A plan of least shortage and then least cost, with bounds; called again it goes on from where it stood, for
        so many `turns`, or all that are left."""
        if not self.begun:
            self._begin()
        while self.more and turns != 0 and not self._done():
            self._take_next()
            turns = None if turns is None else turns - 1
        return self.plan

    @property
    def more(self) -> bool:
        """Whether there are ways left to try."""
        return not self.begun or self.taken < len(self.turns)

    def _begin(self) -> None:
        self.begun = True
        self.lacking = self._bound_short() if self.program.limiting.any() else None
        if self.lacking is not None:
            self._short_of_few(self.lacking)
        self._cost_of_few()
        limited, short = bool(self.program.limiting.any()), self.plan.short_bound > 0
        self.turns = turns_of(self.place, self.small, limited, short, self.standing.heard_of)

    def _take_next(self) -> None:
        at, self.taken = self.taken, self.taken + 1
        self.limits.tell(0.3 + 0.6 * at / len(self.turns), f"{self.name}: composing runs")
        self._take(self.turns[at])
        if self.lacking is not None and not (self.place.number and self.place.together):
            self._after(at, self.lacking)

    def _after(self, at: int, found: Relaxation) -> None:
        """Prove more of the shortage once either hand has a plan, and look for less once others had their turn."""
        if at == (_HEARD if self.small and self.place.hands > 1 else 0):
            self._prove_short(found)
        if at == (_PLANS if self.small else 0):
            self._less_short(found, _NODES)

    # Shortage

    def _bound_short(self) -> Relaxation | None:
        self.limits.tell(0.0, f"{self.name}: proving the least shortage")
        found = relaxed(self.program, self.near, None, self.limits, short=True)
        if found is not None:
            self.near |= found.near
            self.standing.lift_short(found.bound)
        return found

    def _short_of_few(self, found: Relaxation) -> None:
        """What must be short on the days that bind; looking no further than a little more keeps it short."""
        plan, limits = self.plan, self.limits.within(_FEW)
        if plan.short > plan.short_bound > 0 and not limits.over():
            reach = min(plan.short, plan.short_bound + _SHORTER)
            self.standing.lift_short(short_of_few_days(self.program, found, reach, self.standing.short_step, limits))

    def _prove_short(self, found: Relaxation) -> None:
        """Prove that as much as the plan lacks must be short."""
        if self.standing.found and self.plan.short > self.plan.short_bound and not self.limits.over():
            self.limits.tell(0.5, f"{self.name}: proving the least shortage")
            step, limits = self.standing.short_step, self.limits.within(0.4)
            self.standing.lift_short(short_of_few_days(self.program, found, self.plan.short, step, limits))

    def _less_short(self, found: Relaxation, nodes: int) -> None:
        """Find a plan that is less short, or prove that there is none."""
        if self.standing.found and self.plan.short > self.plan.short_bound and not self.limits.over():
            plan, step, limits = self.plan, self.standing.short_step, self.limits.within(0.6)
            outcome = short_of_all_days(self.program, found, plan.short, plan.short_bound, step, nodes, limits)
            self.standing.lift_short(outcome.bound)
            self.standing.offer(outcome.picks)

    def _reach_cover(self) -> None:
        """Look for a plan with nothing short. That costs little is what tells near plans apart."""
        near = relaxed(self.program, self.near, 0, self.limits, short=False)
        for shuffle in range(self.place.number, _COVER if near is not None else 0, self.place.hands):
            assert near is not None
            self.standing.offer(self._dive(near, 0).plan(Manner(shuffle=shuffle)))
            if self.plan.short and not self.limits.over():
                self._compose_windows(near, 0, self.limits)
            if not self.plan.short or self.limits.over():
                return

    # Gear cost

    def _relaxed(self, cap: int) -> Relaxation | None:
        """The relaxation of least cost, at most `cap` short."""
        if self.known is None or self.known[0] != cap:
            self.limits.tell(0.2, f"{self.name}: proving the least gear")
            found = relaxed(self.program, self.near, cap, self.limits, short=False)
            if found is None:
                return None
            self.near |= found.near
            self.known = cap, found
            self.lifts = self._proved_by_the_other()
            self.standing.lift_cost(CostBound(cap, found.bound, found.slope))
        return self.known[1]

    def _proved_by_the_other(self) -> int:
        """How many times the bound on cost is lifted by the other hand."""
        if self.place.together:
            return 1 if self.place.number else 0
        return len(_DAYS) - 1 if self.standing.heard_of else 0

    def _cost_of_few(self) -> None:
        """What few days prove beyond the relaxation, before a plan is looked for: it says how good is good enough."""
        cap = self.plan.short_bound
        found = self._relaxed(cap) if self.small and not (self.place.number and self.place.together) else None
        if found is not None and self.lifts == 0 and not self._done():
            self._lift(found, cap, self.limits.within(2 * _FEW if cap else _FEW))

    def _lift(self, found: Relaxation, cap: int, limits: Limits) -> None:
        """More of the cost, in whole numbers on the days that matter most: a little more at a time, as then few choices
        come into question, and on more days where some prove no more."""
        while self.lifts < len(_DAYS) and not self._done() and not limits.over():
            bound = max(found.bound, self.standing.proved_at(cap))
            if bound > (1 + _HIGHEST) * found.bound:
                return
            enough, days = (1 + _LITTLE) * bound, _DAYS[self.lifts]
            most = limits.at_most(_SECONDS[self.lifts]) if self.small else limits
            lifted = cost_of_days(self.program, found, self._most_short(cap), days, enough, most)
            self.standing.lift_cost(CostBound(cap, lifted, -math.inf))
            if lifted < enough - 1.0:
                self.lifts += 1
                return

    def _take(self, turn: Turn) -> None:
        cap = self.plan.short_bound
        found = self._relaxed(cap)
        if found is None or self._done() or (turn.cheapest and not self.program.limiting.any()):
            return
        if turn.shorter:
            self._shorter(found, cap)
        elif turn.lift:
            self._lift(found, cap, self.limits.within(_OUTWARD))
        elif turn.whole:
            if self.lacking is not None:
                self._less_short(self.lacking, _ALL_NODES)
            self._whole_cost(found, cap, math.inf, _ALL_NODES, self.limits.within(_ALL))
        elif turn.fit is not None and self.limits.left() < _LAST:
            self._compose_windows(found, cap, self.limits)
        elif turn.fit is not None:
            self._fit(found, cap, turn)
        elif turn.way is not None:
            goal, limits = self._goal(cap), self.limits.within(_OUTWARD if self.place.together else _APART_OUTWARD)
            self.standing.offer(Outward(self.program, found, self._most_short(cap), limits, goal, turn.way).plan())
        elif turn.rest:
            self._rest(found, cap, turn)
        else:
            self.standing.offer(self._dive(found, cap).plan(self._manner(found, cap, turn.shuffle)))
        if not self._done():
            self._prove(found, cap)
        if turn.dives and not self._done() and (turn.shuffle or not self.small):
            some = self.limits.within(_WINDOWS) if self.small or self.place.number else self.limits
            self._compose_windows(found, cap, some)
            self._whole_cost(found, cap, _WHOLE, _NODES, self.limits)

    def _rest(self, found: Relaxation, cap: int, turn: Turn) -> None:
        """A dive whose last runs are composed together."""
        dive, windows = self._dive(found, cap), self._windows(found, cap)
        if turn.sought:
            uses, bound = uses_in_whole(self.program, found, self._most_short(cap), self.limits.within(_USES))
            self.standing.lift_cost(CostBound(cap, bound, -math.inf))
            if uses is None or self._done():
                return
            dive.given(uses)
        stages, seconds = _REST if self.small else _REST_LARGE
        most = windows.worth(self.plan.picks) - self.standing.cost_step if self.standing.found else math.inf
        manner = Manner(shuffle=turn.shuffle, alike=_ALIKE, most=most, returns=0)
        manner = replace(manner, easy=_EASY) if self.small else replace(manner, at_once=_AT_ONCE)
        enough = self._goal(cap) * (1.0 if self.small else 1 + _NEAR_LARGE)
        self.standing.offer(finished(dive, manner, windows, enough, stages, seconds))

    def _shorter(self, found: Relaxation, cap: int) -> None:
        """Dives, each shuffled otherwise, and days composed anew, for a plan that lacks no more than is proved."""
        for _ in range(_DIVES):
            if self.plan.short <= cap or not self.standing.found or self._done():
                return
            self.dived += self.place.hands
            most = self._windows(found, cap).worth(self.plan.picks) - self.standing.cost_step
            manner = Manner(shuffle=self.dived + self.place.number, easy=_EASY, most=most, returns=_RETURNS)
            self.standing.offer(self._dive(found, cap).plan(manner))
        if self.plan.short > cap and not self._done():
            self._compose_windows(found, cap, self.limits.within(_WINDOWS))

    def _fit(self, found: Relaxation, cap: int, turn: Turn) -> None:
        """Fill a room: the cheapest there is, which proves a bound too, or one that is soon found."""
        assert turn.fit is not None
        limits, most_short = self.limits.within(_ROOM if cap else _TIGHT), self._most_short(cap)
        if turn.cheapest:
            room, bound = cheapest_room(self.program, found, most_short, (1 + _LIFT) * found.bound, limits)
            self.standing.lift_cost(CostBound(cap, bound, -math.inf))
        elif turn.own:
            if self.plan.short > cap:
                return
            most = max(self._goal(cap), self.plan.cost - self.standing.cost_step)
            room = own_room(self.program, found, most_short, self.plan.picks, most, limits)
        elif turn.sought:
            limits = limits.at_most(_SOUGHT)
            room = sought_room(self.program, found, most_short, self._goal(cap), turn.fit, limits)
        else:
            room = room_for(self.program, found, most_short, self._worth_filling(cap, turn.fit), turn.fit, limits)
        if room is not None and not self._done():
            goal, windows = max(self._goal(cap), room.least), self._windows(found, cap)
            limits = self.limits.within(_FIT).at_most(_FILL)
            self.standing.offer(filled(room, goal, windows.worth(self.plan.picks), turn.fit, limits, windows))

    def _worth_filling(self, cap: int, fit: int) -> float:
        """The most a room may cost: what is good enough, on some turns what is better than the plan in hand."""
        goal, plan = self._goal(cap), self.plan
        better = plan.cost - self.standing.cost_step if plan.short <= cap else math.inf
        return goal if fit % _CYCLE < _STRICT else max(goal, min(better, (1 + _LIFT) * goal))

    def _most_short(self, cap: int) -> int | None:
        return cap if self.program.limiting.any() else None

    def _goal(self, cap: int) -> float:
        """The most a plan may cost to be good enough."""
        return (self.standing.bound_at(cap) + self.spare()) / (1 - PROVED_GAP)

    def _dive(self, found: Relaxation, cap: int) -> Dive:
        columns = np.nonzero(self._worth_a_look(found))[0]
        return Dive(self.program, columns, self._most_short(cap), self.limits)

    def _manner(self, found: Relaxation, cap: int, shuffle: int) -> Manner:
        """The first dive is to give a plan; all others are to give better ones."""
        if shuffle == 0:
            return Manner(shuffle=shuffle)
        worth, goal = self._windows(found, cap).worth(self.plan.picks), self._goal(cap)
        most = goal if shuffle % 2 else max(goal, worth - self.standing.cost_step)
        return Manner(shuffle=shuffle, most=most)

    def _windows(self, found: Relaxation, cap: int) -> Windows:
        keep = self._worth_a_look(found)
        return Windows(self.program, self.limits, self._most_short(cap), OVER_COST, keep, self.standing.cost_step)

    def _compose_windows(self, found: Relaxation, cap: int, limits: Limits) -> None:
        """Days composed anew, those that matter most first (by the second hand last), until none makes the plan
        better."""
        windows = replace(self._windows(found, cap), limits=limits)
        days = np.argsort(-found.prices.sum(axis=0), kind="stable")[:: -1 if self.place.number else 1]
        gained = True
        while gained and not self.good and not limits.over():
            before = windows.worth(self.plan.picks)
            for day in days:
                if self.good or limits.over():
                    return
                picks = self.plan.picks
                self.standing.offer(windows.better(picks, np.nonzero(self.program.about(int(day), _FREE))[0]))
            gained = windows.worth(self.plan.picks) < before

    def _prove(self, found: Relaxation, cap: int) -> None:
        """More of the cost, in whole numbers on the days that matter most, where that little is all that lacks: by the
        hand that found the plan."""
        plan = self.plan
        lacking = plan.cost * (1 - PROVED_GAP) - self.spare() - plan.cost_bound
        if self.standing.own and plan.short == cap and lacking <= _NEARLY * plan.cost:
            self._lift(found, cap, self.limits.within(_OUTWARD))

    def _whole_cost(self, found: Relaxation, cap: int, many: float, nodes: int, limits: Limits) -> None:
        """All at once, but for choices that cannot be in a plan better than the one in hand, if no more than so
        `many` are left. Without a first plan, as HiGHS simplifies the program only then."""
        mine = self.plan
        columns = np.nonzero(found.reduced <= mine.cost - found.bound + 1.0)[0]
        if self._done() or mine.short > cap or len(columns) > many:
            return
        self.limits.tell(0.8, f"{self.name}: looking for better")
        linear = linear_of(self.program, scope_of(self.program, columns, self._most_short(cap)))
        outcome = settled(linear, limits, nodes=nodes, share_gap=0.95 * PROVED_GAP)
        self.standing.lift_cost(CostBound(cap, min(outcome.bound, float(mine.cost)), -math.inf))
        self.standing.offer(over_all(self.program, columns, outcome.picks))

    def _worth_a_look(self, found: Relaxation) -> BoolArray:
        """Choices that cost little beyond the relaxation, and the likeliest of each group."""
        reach = 0.18 if self.small else 0.06
        cheap = found.reduced <= reach * float(self.program.section.price.mean())
        rank = self.program.rank(found.reduced)
        return (cheap & (rank < (20 if self.small else 8))) | (rank < 2)

    def _answered(self) -> bool:
        """Whether nothing is left to find, here or beside."""
        self.listen()
        return self.good

    def _done(self) -> bool:
        return self.good or self.limits.over()
