"""One piece's life as numbers: walked once over the events that its fold applied.

Everything the figures count is counted here, once, so that a summary kept up to date piece by piece and one made from
the whole ledger are the same by construction. Damage and loss are put to the use they followed (its month, its site),
so that of n uses at most n were followed by damage.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import NamedTuple

from inventory.lifecycle.events import Event
from inventory.lifecycle.fold import GroupEvents, fold
from inventory.lifecycle.kinds import Fitness, Kind, Standing
from inventory.lifecycle.state import State
from inventory.lifecycle.world import About, Places

ENDS = ("worn out", "damaged", "sold", "gone back", "other")
"""How a piece can be said to have left the books; `lost` and `cut down` follow from its standing."""
LIFE_ENDED = frozenset({"worn out", "damaged"})
"""Ends that say how long such gear lasts. Every other end is censored: the piece could have gone on."""


class Stay(NamedTuple):
    """Time at one yard or site (its root place), or on the road (None): days [since, until); until None is open."""

    place: int | None
    since: date
    until: date | None


class MonthKey(NamedTuple):
    """The first of the month, and the root place; None where no place is known."""

    month: date
    place: int | None


class Dirt(NamedTuple):
    """Dirty at one root place (None: on the road) from coming so until cleaned or taken away; until None is still."""

    place: int | None
    since: datetime
    until: datetime | None


class Run(NamedTuple):
    """Uses made at one root place with none elsewhere between: the piece had `entry` before and `exit` after them."""

    place: int | None
    entry: int
    exit: int


@dataclass(slots=True)
class Month:
    """What happened to the piece in one month at one site or yard.

    casts       uses made then and there; damaged, unfit, lost: how many of these uses were followed by it before
                the next one
    cleans      times it went from dirty to clean; uncleaned: casts with no clean since the cast before
    """

    casts: int = 0
    damaged: int = 0
    unfit: int = 0
    lost: int = 0
    cleans: int = 0
    uncleaned: int = 0


@dataclass(slots=True)
class Life:
    """Numbers of one piece.

    entry_uses       casts it came with, from before it was on the books or from the length it was cut from
    uses             casts in all; own uses are uses - entry_uses
    on_books         day it was registered; off_books the day it left, None while it is held
    ended            "" while held; a word of ENDS, "lost" or "cut down"
    proceeds         what a sale or its scrap brought, in the yard's currency
    inspected_at     when it was last inspected; uses_since_inspected casts since then, or all it ever had
    dirty_since      since when it has been dirty; unfit_since since when unfit; None if it is not
    site             root place of its last cast or of the last site it stood on
    """

    entry_uses: int = 0
    uses: int = 0
    on_books: date | None = None
    off_books: date | None = None
    ended: str = ""
    proceeds: Decimal = Decimal(0)
    inspected_at: datetime | None = None
    uses_since_inspected: int = 0
    dirty_since: datetime | None = None
    unfit_since: datetime | None = None
    site: int | None = None
    stays: list[Stay] = field(default_factory=list)
    runs: list[Run] = field(default_factory=list)
    dirt: list[Dirt] = field(default_factory=list)
    months: dict[MonthKey, Month] = field(default_factory=dict)

    @property
    def own_uses(self) -> int:
        return self.uses - self.entry_uses

    def month(self, key: MonthKey) -> Month:
        return self.months.setdefault(key, Month())

    def copy(self) -> Life:
        """One that can be walked on without this one changing."""
        months = {key: replace(month) for key, month in self.months.items()}
        return replace(self, stays=[*self.stays], runs=[*self.runs], dirt=[*self.dirt], months=months)

    def without_empty_months(self) -> Life:
        self.months = {key: month for key, month in self.months.items() if month != NOTHING}
        return self


class Halt(NamedTuple):
    """Where a walk stopped, so that it can go on from there: the state that the fold had come to, the use that damage
    and loss are put to, and which of them that use has had."""

    state: State
    last_use: MonthKey | None
    had: frozenset[str]


NOTHING = Month()


def life_of(
    own: Sequence[Event], group_events: GroupEvents, places: Places, about: About, day: Callable[[datetime], date]
) -> Life:
    """The life of one piece, from its events and those of its groups as the fold takes them.

    day   the local day of a moment
    """
    return walked(own, group_events, places, about, day)[0]


def walked(
    own: Sequence[Event], group_events: GroupEvents, places: Places, about: About, day: Callable[[datetime], date]
) -> tuple[Life, Halt]:
    """The life from its beginning, and where its walk stopped."""
    walk = LifeWalk(day, places, about)
    return walk.at(fold(own, group_events, places, about, watch=walk).state)


@dataclass(slots=True)
class LifeWalk:
    """Watches a fold from its beginning and writes the life as it goes.

    Its own memory is the use that damage and loss are put to, and which of them that use has had.
    """

    day: Callable[[datetime], date]
    places: Places
    about: About
    life: Life = field(default_factory=Life)
    last_use: MonthKey | None = None
    had: set[str] = field(default_factory=set)

    @classmethod
    def onward(cls, life: Life, halt: Halt, day: Callable[[datetime], date], places: Places, about: About) -> LifeWalk:
        """Goes on with a life from where its walk stopped; the life itself is left as it is."""
        return cls(day, places, about, life.copy(), halt.last_use, set(halt.had))

    def at(self, state: State) -> tuple[Life, Halt]:
        """What was walked so far, with the state that the fold has come to."""
        return self.life.without_empty_months(), Halt(state, self.last_use, frozenset(self.had))

    def __call__(self, event: Event, before: State, state: State) -> None:
        life, about = self.life, self.about
        if event.kind == Kind.REGISTERED and before.standing == Standing.UNREGISTERED:
            life.entry_uses = life.uses = life.uses_since_inspected = state.uses
        elif state.uses > before.uses:
            self._cast(life, before, state, event, about)
        if life.on_books is None and state.standing != Standing.UNREGISTERED:
            life.on_books = self.day(event.happened)
        self._looks(life, before, state, event)
        self._dirt(life, state, event)
        self._stays(life, state, event)
        self._books(life, before, state, event)

    def _here(self, event: Event, *states: State) -> MonthKey:
        place = next((p for s in states for p in (s.pour, s.place) if p is not None), None)
        return MonthKey(self.day(event.happened).replace(day=1), self.places.root(place))

    def _cast(self, life: Life, before: State, state: State, event: Event, about: About) -> None:
        key = self._here(event, before, state) if before.pour is not None else self._here(event, state, before)
        made = state.uses - before.uses
        life.uses, self.last_use = state.uses, key
        life.uses_since_inspected += made
        self.had.clear()
        self._run(life, key.place, made)
        month = life.month(key)
        month.casts += made
        if about.clean_after_every_pour and before.uses_since_clean > 0:
            month.uncleaned += 1

    def _run(self, life: Life, place: int | None, made: int) -> None:
        last = life.runs[-1] if life.runs else None
        if last is not None and last.place == place:
            life.runs[-1] = last._replace(exit=life.uses)
        else:
            life.runs.append(Run(place, life.uses - made, life.uses))

    def _dirt(self, life: Life, state: State, event: Event) -> None:
        """A spell ends when it is clean, off the books or somewhere else."""
        dirty = state.dirty and state.standing == Standing.HELD
        root = self.places.root(state.place)
        last = life.dirt[-1] if life.dirt else None
        if last is not None and last.until is None:
            if dirty and last.place == root:
                return
            life.dirt[-1] = last._replace(until=max(event.happened, last.since))
        if dirty:
            life.dirt.append(Dirt(root, event.happened, None))

    def _looks(self, life: Life, before: State, state: State, event: Event) -> None:
        if event.kind == Kind.FOUND_DAMAGED and state.fitness != Fitness.SOUND:
            self._after_use(life, "damaged")
            if state.fitness == Fitness.UNFIT:
                self._after_use(life, "unfit")
        if event.kind == Kind.INSPECTED and state.standing == Standing.HELD:
            life.inspected_at, life.uses_since_inspected = event.happened, 0
        if before.dirty and not state.dirty:
            life.month(self._here(event, state, before)).cleans += 1
        life.dirty_since = (life.dirty_since or event.happened) if state.dirty else None
        unfit = state.fitness == Fitness.UNFIT
        life.unfit_since = (life.unfit_since or event.happened) if unfit else None

    def _after_use(self, life: Life, what: str) -> None:
        """Once for each use, however often it is said."""
        if self.last_use is not None and what not in self.had:
            self.had.add(what)
            month = life.month(self.last_use)
            setattr(month, what, getattr(month, what) + 1)

    def _stays(self, life: Life, state: State, event: Event) -> None:
        if state.standing == Standing.UNREGISTERED:
            return
        held = state.standing == Standing.HELD
        root, day = self.places.root(state.place), self.day(event.happened)
        if self.places.is_site(root):
            life.site = root
        last = life.stays[-1] if life.stays else None
        if last is not None and last.until is None:
            if held and last.place == root:
                return
            life.stays[-1] = last._replace(until=max(day, last.since))
        if held:
            life.stays.append(Stay(root, day, None))

    def _books(self, life: Life, before: State, state: State, event: Event) -> None:
        if state.standing == before.standing:
            return
        if before.standing == Standing.LOST and "lost" in self.had and self.last_use is not None:
            self.had.discard("lost")
            life.month(self.last_use).lost -= 1
        if state.standing == Standing.HELD:
            life.off_books, life.ended, life.proceeds = None, "", Decimal(0)
            return
        life.off_books = self.day(event.happened)
        life.ended = _ended(state.standing, event)
        life.proceeds = money_said(event.data.get("proceeds"))
        if state.standing == Standing.LOST:
            self._after_use(life, "lost")


def _ended(standing: Standing, event: Event) -> str:
    if standing == Standing.LOST:
        return "lost"
    if standing == Standing.CUT_DOWN:
        return "cut down"
    how = str(event.data.get("how", ""))
    return how if how in ENDS else "other"


def money_said(said: object) -> Decimal:
    """Money as an event carries it: a decimal in text; anything else is nothing."""
    try:
        amount = Decimal(str(said)) if said not in (None, "") else Decimal(0)
    except InvalidOperation:
        return Decimal(0)
    return amount if amount.is_finite() else Decimal(0)
