"""What a hand tries in a section, in order: ways to look for a plan, of which no one is the quickest on every job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jobs.planning.outward import Way


@dataclass(frozen=True)
class Place:
    """Who searches a section: hand `number` of `hands`, and whether all of them begin with it."""

    number: int = 0
    hands: int = 1
    together: bool = True


@dataclass(frozen=True)
class Turn:
    """One way to look for a plan: by filling a room, another each number `fit`, or the `cheapest`, or one whose
    greatest uses are `sought` by a solver, or are the plan's `own`; by dives for a `shorter` list of what lacks; else
    outward; else by a dive shuffled so, whose `rest` is settled by a solver or not, and its greatest uses are `sought`
    first or not; or all as a `whole` by a solver, for checks that have the time. Or none at all: to `lift` the bound
    instead, which says what is good enough."""

    way: Way | None = None
    shuffle: int = 0
    fit: int | None = None
    cheapest: bool = False
    sought: bool = False
    own: bool = False
    shorter: bool = False
    rest: bool = False
    lift: bool = False
    whole: bool = False

    @property
    def dives(self) -> bool:
        """Whether it is a dive."""
        return self.fit is None and self.way is None and not (self.lift or self.shorter or self.whole)


_STIRRED = Way(60, 1, rounding=True)
_BARE = Way(30, 2, simplified=False)
_NARROW = Way(10, 1, rounding=True)
_CHEAPEST = Turn(fit=10, cheapest=True)
_LIFT = Turn(lift=True)
_WHOLE = Turn(whole=True)
_SHORTER = Turn(shorter=True)
_SOUGHT = tuple(Turn(fit=n, sought=True) for n in range(5))
_REST = tuple(Turn(shuffle=n, rest=True) for n in range(12))
_OWN = tuple(Turn(fit=n, own=True) for n in range(8))
_OTHERS = (
    *(Turn(Way(30)), Turn(fit=8), Turn(_STIRRED), Turn(fit=16), Turn(_BARE), Turn(Way(60, 3)), Turn(shuffle=1)),
    _WHOLE,
)
_MORE = (
    Turn(fit=3),
    _LIFT,
    _WHOLE,
    Turn(fit=14),
    Turn(fit=5),
    Turn(_BARE),
    Turn(fit=18),
    Turn(_STIRRED),
    Turn(fit=7),
    Turn(shuffle=2),
    _WHOLE,
)
_FIRST = (
    *(Turn(fit=0), _SOUGHT[0], Turn(fit=2), Turn(fit=4), _REST[0], _SOUGHT[2], Turn(fit=6), _REST[2]),
    *_OTHERS,
)
_SECOND = (
    *(Turn(fit=1), _SOUGHT[1], Turn(), _LIFT, Turn(fit=12), _REST[1], _CHEAPEST, _SOUGHT[3], _REST[3]),
    *_MORE,
)
_FIRST_SHORT = (
    *(Turn(fit=2), _SHORTER, _SOUGHT[0], _SHORTER, _REST[2], Turn(fit=4), _OWN[0], _REST[4], _SOUGHT[2], _OWN[2]),
    *(Turn(fit=6), _OWN[4], *_OTHERS),
)
_SECOND_SHORT = (
    *(Turn(), Turn(fit=0), _SHORTER, _REST[1], _SOUGHT[1], _SHORTER, _OWN[1], _CHEAPEST, _REST[3], Turn(fit=1)),
    *(_OWN[3], _LIFT, Turn(fit=12), _SOUGHT[3], *_MORE),
)
_APART = (
    *(Turn(fit=0), _SOUGHT[0], Turn(fit=4), Turn(), _SHORTER, _SOUGHT[1], Turn(fit=1), Turn(fit=2), _LIFT, _SOUGHT[2]),
    *(Turn(fit=6), Turn(fit=3), _LIFT, _CHEAPEST, *(Turn(fit=n) for n in (8, 12, 10, 5, 14)), _WHOLE),
    *(Turn(_NARROW), Turn(fit=18), Turn(Way(30)), Turn(_STIRRED)),
)
_APART_SHORT = (
    *(Turn(), Turn(fit=2), _SHORTER, _OWN[0], Turn(shuffle=2), _OWN[2], _SOUGHT[0]),
    *(turn for turn in _APART if turn not in (Turn(), Turn(fit=2), _SOUGHT[0])),
)
_JOINED = (
    *(_SHORTER, _OWN[1], Turn(fit=20), _SOUGHT[2], _SHORTER, _OWN[3], _LIFT, Turn(fit=22), _SOUGHT[1], _OWN[5]),
    *(Turn(fit=21), _SOUGHT[4], Turn(fit=24), _OWN[7], Turn(_BARE), Turn(fit=28), Turn(_STIRRED), Turn(fit=26)),
    *(Turn(shuffle=2), _WHOLE),
)
_ALONE = (
    *(Turn(fit=0), _SOUGHT[0], Turn(Way(30)), Turn(fit=1), _LIFT, Turn(), _CHEAPEST, _SOUGHT[1], Turn(fit=2)),
    *(_LIFT, Turn(_STIRRED), Turn(fit=3), Turn(_BARE), Turn(shuffle=1), _WHOLE),
)
_USES = tuple(Turn(shuffle=n, rest=True, sought=True) for n in range(6))
_LARGE = (_REST[0], *_REST[2:8])
_LARGE_BESIDE = (_REST[1], *_REST[8:])
_LARGE_SHORT = (_REST[0], _REST[2], _USES[1], *_REST[3:8])
_LARGE_SHORT_BESIDE = (_USES[0], _REST[1], *_REST[8:])


def turns_of(place: Place, small: bool, limited: bool, short: bool, heard_of: bool) -> Sequence[Turn]:
    """What to try, in order, where a section is `small` or not, stock `limited` or not, something `short` or not, and
    the other hand has searched it already (`heard_of`) or not. Of two hands on one section each has ways of its own, as
    both at the same rooms would find the same; in a large one both dive, each shuffled otherwise."""
    if not small and short:
        return _LARGE_SHORT_BESIDE if place.number else _LARGE_SHORT
    if not small:
        return _LARGE_BESIDE if place.number else _LARGE
    if place.hands == 1:
        return _ALONE
    if not place.together:
        return _JOINED if heard_of else _APART_SHORT if short else _APART
    if limited:
        return _SECOND_SHORT if place.number else _FIRST_SHORT
    return _SECOND if place.number else _FIRST
