"""What each kind of event does to the state of a piece.

Every function takes the state, the event, the world and whether the event reached the piece through a group, and
returns the new state with the contradictions found. Nothing here refuses: what happened on the ground wins, and what
does not fit the record is found, named and left to a person.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from inventory.lifecycle.events import Event
from inventory.lifecycle.kinds import Fitness, GroupKind, Kind, Phase, Standing
from inventory.lifecycle.state import Finding, State
from inventory.lifecycle.world import About, Places

Step = tuple[State, list[Finding]]
OUT_OF_THE_BOOKS = frozenset({Standing.RETIRED, Standing.CUT_DOWN})


def _say(event: Event, *codes: str) -> list[Finding]:
    return [Finding(code, event.id) for code in codes]


def _used(state: State, about: About) -> State:
    """One cast: a use, and dirt on gear that must be cleaned after every pour."""
    return replace(
        state,
        uses=state.uses + 1,
        uses_since_clean=state.uses_since_clean + 1,
        dirty=state.dirty or about.clean_after_every_pour,
    )


def _out_of_pour(state: State, event: Event, about: About) -> Step:
    """Gear that leaves a pour nobody stripped: set and neither cast nor called off counts as cast."""
    if state.phase == Phase.SET:
        return replace(_used(state, about), phase=Phase.NONE, pour=None), _say(event, "left-pour-unstripped")
    if state.phase in (Phase.CAST, Phase.CALLED_OFF):
        return replace(state, phase=Phase.NONE, pour=None), _say(event, "left-pour-unstripped")
    return replace(state, phase=Phase.NONE, pour=None), []


def _loose(state: State, event: Event) -> State:
    """Scanned apart from its crate, a piece is no longer in it; a press on the crate keeps it listed."""
    by_crate = event.group is not None and event.group.kind == GroupKind.CRATE
    return state if by_crate else replace(state, crate=event.data.get("crate"))


def _unfit(state: State, event: Event, code: str) -> list[Finding]:
    """Broken gear goes home as it is: only what takes it to be used is a contradiction."""
    allowed = bool(event.data.get("override") or event.data.get("homeward"))
    return _say(event, code) if state.fitness == Fitness.UNFIT and not allowed else []


def registered(state: State, event: Event, places: Places, about: About) -> Step:
    if state.standing != Standing.UNREGISTERED:
        return state, _say(event, "registered-twice")
    data = event.data
    return replace(
        state,
        standing=Standing.HELD,
        place=event.place,
        since=event.happened,
        crate=data.get("crate"),
        dirty=bool(data.get("dirty", False)),
        fitness=Fitness(data.get("grade", Fitness.SOUND)),
        uses=int(data.get("uses", 0)),
        uses_since_clean=int(data.get("uses_since_clean", 0)),
    ), []


def sent(state: State, event: Event, places: Places, about: About) -> Step:
    """Loaded onto a docket. The same kind about the docket itself says that the truck has left."""
    if event.group is not None and event.group.kind == GroupKind.DOCKET:
        return (replace(state, since=event.happened) if state.place is None else state), []
    findings = _unfit(state, event, "unfit-sent")
    if state.place is None and state.docket is not None and state.docket == event.docket:
        return _loose(state, event), findings  # scanned onto the same truck twice, by two phones
    state, more = _out_of_pour(state, event, about)
    from_place = event.data.get("from_place")
    if from_place is not None and places.root(state.place) != places.root(from_place):
        more = [*more, *_say(event, "sent-from-elsewhere")]
    state = replace(_loose(state, event), place=None, docket=event.docket, since=event.happened)
    return state, findings + more


def received(state: State, event: Event, places: Places, about: About) -> Step:
    by_docket = event.group is not None and event.group.kind == GroupKind.DOCKET
    if by_docket and state.place is not None:
        return state, []  # already counted off by itself, or already in a pour
    findings = _unfit(state, event, "unfit-received") if places.is_site(event.place) else []
    if not by_docket and event.docket is not None and state.docket != event.docket:
        findings += _say(event, "not-on-docket")
    if state.place is not None and places.root(state.place) == places.root(event.place):
        return replace(state, docket=event.docket or state.docket), findings
    state, more = _out_of_pour(state, event, about)
    state = replace(state, place=event.place, docket=event.docket or state.docket, since=event.happened)
    return state, findings + more


def set_in_pour(state: State, event: Event, places: Places, about: About) -> Step:
    by_docket = event.group is not None and event.group.kind == GroupKind.DOCKET
    busy = state.phase in (Phase.SET, Phase.CAST, Phase.CALLED_OFF)
    if by_docket and state.pour is not None:
        return state, []  # "everything from this docket" means what has not been set anywhere yet
    if by_docket and not about.is_set and not event.data.get("everything"):
        return state, []
    if state.phase == Phase.SET and state.pour == event.place:
        return state, []
    findings = _unfit(state, event, "unfit-set")
    if busy:
        state, _ = _out_of_pour(state, event, about)
        findings += _say(event, "set-while-set")
    if places.root(state.place) != places.root(event.place):
        findings += _say(event, "set-from-elsewhere")
    state = replace(_loose(state, event), place=event.place, pour=event.place, phase=Phase.SET, since=event.happened)
    return state, findings


def cast(state: State, event: Event, places: Places, about: About) -> Step:
    pour = event.group.id if event.group is not None else event.place
    pour = state.pour if pour is None else pour
    if state.phase != Phase.SET or state.pour != pour:
        if event.group is not None:
            twice = state.phase == Phase.CAST and state.pour == pour
            return state, _say(event, "cast-twice") if twice else []
        if state.phase == Phase.CAST and state.pour == pour:
            return state, _say(event, "cast-twice")
        state, _ = _out_of_pour(state, event, about)
        state = replace(state, place=pour, pour=pour, phase=Phase.SET, since=event.happened)
        findings = _say(event, "cast-not-set")
    else:
        findings = []
    if about.clean_after_every_pour and state.uses_since_clean > 0:
        findings += _say(event, "cast-uncleaned")
    return replace(_used(state, about), phase=Phase.CAST), findings


def called_off(state: State, event: Event, places: Places, about: About) -> Step:
    if state.phase == Phase.SET:
        return replace(state, phase=Phase.CALLED_OFF), []
    return state, _say(event, "called-off-after-cast") if state.phase == Phase.CAST else []


def stripped(state: State, event: Event, places: Places, about: About) -> Step:
    findings: list[Finding] = []
    if state.phase == Phase.SET:
        state, findings = _used(state, about), _say(event, "strip-without-cast")
    elif state.phase not in (Phase.CAST, Phase.CALLED_OFF):
        return (state, []) if event.group is not None else (state, _say(event, "strip-not-set"))
    place = event.place if event.place is not None else places.root(state.place)
    return replace(state, phase=Phase.STRIPPED, place=places.root(place), since=event.happened), findings


def cleaned(state: State, event: Event, places: Places, about: About) -> Step:
    if event.group is not None and event.group.kind == GroupKind.POUR and state.phase != Phase.STRIPPED:
        return state, []  # what is still in the pour cannot have been cleaned
    return replace(state, dirty=False, uses_since_clean=0), []


def returned(state: State, event: Event, places: Places, about: About) -> Step:
    by_docket = event.group is not None and event.group.kind == GroupKind.DOCKET
    if by_docket and state.place is not None:
        return state, []
    findings: list[Finding] = []
    from_place = event.data.get("from_place")
    here = places.root(state.place)
    if not by_docket and state.place is not None and here == places.root(event.place):
        findings += _say(event, "returned-not-out")
    elif from_place is not None and here is not None and here != places.root(from_place):
        findings += _say(event, "returned-from-other-site")
    state, more = _out_of_pour(state, event, about)
    dirty = event.data.get("dirty")
    if dirty is not None:
        state = replace(state, dirty=bool(dirty), uses_since_clean=state.uses_since_clean if dirty else 0)
    state = replace(_loose(state, event), place=event.place, docket=None, since=event.happened)
    return state, findings + more


def counted(state: State, event: Event, places: Places, about: About) -> Step:
    if "crate" in event.data:
        return replace(state, crate=event.data["crate"]), []
    return state, []


def damaged(state: State, event: Event, places: Places, about: About) -> Step:
    """Found damaged: never better than it was. Only an inspection lifts the lock on unfit gear."""
    grade = Fitness(event.data.get("grade", state.fitness))
    return replace(state, fitness=max(state.fitness, grade, key=_WORSE.index)), []


_WORSE = (Fitness.SOUND, Fitness.WATCH, Fitness.UNFIT)


def graded(state: State, event: Event, places: Places, about: About) -> Step:
    """Inspected: the grade given is the fitness from then on."""
    return replace(state, fitness=Fitness(event.data.get("grade", state.fitness))), []


def repaired(state: State, event: Event, places: Places, about: About) -> Step:
    """A repair by itself never lifts the lock on unfit gear: that takes an inspection."""
    if state.fitness == Fitness.WATCH and event.data.get("grade") == Fitness.SOUND:
        return replace(state, fitness=Fitness.SOUND), []
    return state, []


def _off(state: State, event: Event, about: About, standing: Standing) -> Step:
    state, findings = _out_of_pour(state, event, about)
    return replace(state, standing=standing, place=None, docket=None, crate=None, since=event.happened), findings


def cut_down(state: State, event: Event, places: Places, about: About) -> Step:
    return _off(state, event, about, Standing.CUT_DOWN)


def retired(state: State, event: Event, places: Places, about: About) -> Step:
    return _off(state, event, about, Standing.RETIRED)


def lost(state: State, event: Event, places: Places, about: About) -> Step:
    return _off(state, event, about, Standing.LOST)


def found(state: State, event: Event, places: Places, about: About) -> Step:
    if state.standing == Standing.LOST:
        return replace(state, standing=Standing.HELD, place=event.place, since=event.happened), []
    return state, _say(event, "found-not-lost")


def unchanged(state: State, event: Event, places: Places, about: About) -> Step:
    return state, []


STEPS: dict[Kind, Callable[[State, Event, Places, About], Step]] = {
    Kind.REGISTERED: registered,
    Kind.SENT: sent,
    Kind.RECEIVED: received,
    Kind.SET: set_in_pour,
    Kind.CAST: cast,
    Kind.CALLED_OFF: called_off,
    Kind.STRIPPED: stripped,
    Kind.CLEANED: cleaned,
    Kind.RETURNED: returned,
    Kind.COUNTED: counted,
    Kind.FOUND_DAMAGED: damaged,
    Kind.INSPECTED: graded,
    Kind.REPAIRED: repaired,
    Kind.CUT_DOWN: cut_down,
    Kind.RETIRED: retired,
    Kind.LOST: lost,
    Kind.FOUND: found,
    Kind.RETAGGED: unchanged,
    Kind.REVERSED: unchanged,
    Kind.SETTLED: unchanged,
}

LOOKED_AT = frozenset({Kind.CLEANED, Kind.COUNTED, Kind.FOUND_DAMAGED, Kind.INSPECTED, Kind.REPAIRED, Kind.RETAGGED})
"""Kinds that do not move a piece but show where somebody had it in hand."""
