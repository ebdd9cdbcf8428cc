"""What a piece's events come to: properties over random ledgers, against a second fold, and cases told by name."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.lifecycle.events import VERSION, Event, Group, upgraded
from inventory.lifecycle.fold import Folded, apply, fold, taken_back
from inventory.lifecycle.kinds import GroupKind, Kind
from inventory.lifecycle.state import State
from inventory.lifecycle.world import About
from tests.inventory.plain_fold import plain_fold
from tests.strategies import CRATE, DOCKETS, PIECE, POUR, SITE, START, UPPER, WORLD, YARD, ledgers

ABOUT = About(PIECE)
D = DOCKETS[0]
ON_POUR, ON_UPPER, ON_DOCKET = Group(GroupKind.POUR, POUR), Group(GroupKind.POUR, UPPER), Group(GroupKind.DOCKET, D)


def book(events):
    """Group events as the fold wants them: sorted, without those reversed for the whole group."""

    def pages(group):
        heap = [e for e in events if e.group == group and e.piece is None]
        gone = taken_back(heap)
        return sorted((e for e in heap if e.kind != Kind.REVERSED and e.id not in gone), key=lambda e: e.key)

    return pages


def folded(events) -> Folded:
    return fold([e for e in events if e.piece == PIECE], book(events), WORLD, ABOUT)


def as_plain(state) -> dict:
    return {
        "books": state.standing,
        "place": state.place,
        "docket": state.docket,
        "pour": state.pour,
        "phase": state.phase,
        "crate": state.crate,
        "dirty": state.dirty,
        "grade": state.fitness,
        "uses": state.uses,
        "since_clean": state.uses_since_clean,
    }


@settings(max_examples=200, deadline=None)
@given(ledgers())
def test_the_fold_agrees_with_one_written_apart_from_it(events):
    own, presses = [e for e in events if e.piece], [e for e in events if not e.piece]
    assert as_plain(folded(events).state) == plain_fold(own, presses, WORLD, PIECE)


@settings(max_examples=100, deadline=None)
@given(ledgers(), st.randoms(use_true_random=False))
def test_any_order_of_arrival_gives_the_same_state_and_the_same_findings(events, random):
    shuffled = list(events)
    random.shuffle(shuffled)
    assert folded(shuffled) == folded(events)


@settings(max_examples=100, deadline=None)
@given(ledgers(), st.data())
def test_a_reversed_event_leaves_no_trace_in_the_state(events, data):
    plain = [e for e in events if e.kind != Kind.REVERSED]
    gone = data.draw(st.sampled_from(plain))
    back = replace(gone, id=UUID(int=999), kind=Kind.REVERSED, target=gone.id, happened=START - timedelta(days=1))
    assert folded([*plain, back]) == folded([e for e in plain if e is not gone])


@settings(max_examples=100, deadline=None)
@given(ledgers(), st.integers(0, 14))
def test_folding_on_from_a_state_gives_what_folding_from_the_beginning_does(events, cut):
    whole = folded(events)
    own = [e for e in events if e.piece == PIECE]
    early = sorted((e for e in events if e.kind != Kind.REVERSED), key=lambda e: e.key)[:cut]
    reversals = [e for e in events if e.kind == Kind.REVERSED]
    before = folded([*early, *reversals])
    late = [e for e in own if e.kind == Kind.REVERSED or before.state.last is None or e.key > before.state.last]
    late = [e for e in late if e not in early]
    onward = fold(late, book(events), WORLD, ABOUT, before.state)
    assert onward.state == whole.state
    assert before.findings + onward.findings == whole.findings


COUNTS_AS_CAST = {"strip-without-cast", "left-pour-unstripped", "set-while-set", "cast-not-set"}


@settings(max_examples=100, deadline=None)
@given(ledgers())
def test_every_use_is_a_cast_or_a_pour_left_with_neither_word_which_is_found(events):
    state = State()
    for each in folded(events).applied:
        after, found = apply(state, each, WORLD, ABOUT)
        if after.uses > state.uses:
            assert each.kind == Kind.CAST or COUNTS_AS_CAST & {f.code for f in found}
        state = after
    assert state == folded(events).state


def event(kind, hour, pk, **said) -> Event:
    piece = None if "group" in said else PIECE
    return Event(id=UUID(int=pk), kind=kind, happened=START + timedelta(hours=hour), piece=piece, **said)


def out_and_set():
    return [
        event(Kind.REGISTERED, 0, 1, place=YARD),
        event(Kind.SENT, 1, 2, docket=D),
        event(Kind.RECEIVED, 2, 3, group=ON_DOCKET, place=SITE),
        event(Kind.SET, 3, 4, group=ON_DOCKET, place=POUR),
    ]


def codes(outcome):
    return [f.code for f in outcome.findings]


def test_setting_everything_from_a_docket_leaves_a_tool_where_it_lies():
    as_it_was = [replace(e, data=upgraded(1, e.kind, e.data)) for e in out_and_set()]
    for events, pour in ((out_and_set(), None), (as_it_was, POUR)):
        state = fold([e for e in events if e.piece == PIECE], book(events), WORLD, About(PIECE, is_set=False)).state
        assert (state.pour, state.docket) == (pour, D)
        assert folded(events).state.pour == POUR


def test_an_event_of_a_later_program_is_not_read_as_if_it_were_known():
    with pytest.raises(ValueError, match="update Pourback"):
        upgraded(VERSION + 1, Kind.CAST, {})


def test_a_cast_makes_one_use_and_dirt():
    state = folded([*out_and_set(), event(Kind.CAST, 4, 5, group=ON_POUR)]).state
    assert (state.uses, state.uses_since_clean, state.dirty) == (1, 1, True)


def test_a_pour_called_off_makes_no_use_and_no_dirt():
    off, strip = event(Kind.CALLED_OFF, 4, 5, group=ON_POUR), event(Kind.STRIPPED, 5, 6, group=ON_POUR)
    outcome = folded([*out_and_set(), off, strip])
    assert (outcome.state.uses, outcome.state.dirty, codes(outcome)) == (0, False, [])


def test_a_strip_with_neither_counts_as_cast_and_goes_to_review():
    outcome = folded([*out_and_set(), event(Kind.STRIPPED, 5, 6, group=ON_POUR)])
    assert (outcome.state.uses, codes(outcome)) == (1, ["strip-without-cast"])


def test_a_second_cast_without_a_clean_between_is_found():
    events = [
        *out_and_set(),
        event(Kind.CAST, 4, 5, group=ON_POUR),
        event(Kind.STRIPPED, 5, 6, group=ON_POUR),
        event(Kind.SET, 6, 7, group=ON_POUR, place=UPPER),
        event(Kind.CAST, 7, 8, group=ON_UPPER),
    ]
    assert codes(folded(events)) == ["cast-uncleaned"]
    clean = event(Kind.CLEANED, 5.5, 9, group=ON_POUR)
    assert codes(folded([*events, clean])) == []


def test_moving_up_a_level_takes_along_what_was_stripped_below():
    strip, up = event(Kind.STRIPPED, 5, 6, group=ON_POUR), event(Kind.SET, 6, 7, group=ON_POUR, place=UPPER)
    state = folded([*out_and_set(), event(Kind.CAST, 4, 5, group=ON_POUR), strip, up]).state
    assert (state.place, state.pour) == (UPPER, UPPER)


def test_a_press_on_a_pour_passes_over_what_has_left_it():
    home = event(Kind.RETURNED, 5, 5, place=YARD)
    state = folded(
        [*out_and_set(), event(Kind.CALLED_OFF, 4, 8, group=ON_POUR), home, event(Kind.CAST, 6, 6, group=ON_POUR)]
    ).state
    assert (state.uses, state.place) == (0, YARD)


def test_a_piece_written_off_and_seen_again_is_held_again_and_found():
    outcome = folded([*out_and_set(), event(Kind.LOST, 8, 5), event(Kind.RETURNED, 9, 6, place=YARD)])
    assert outcome.state.standing == "held"
    assert "seen-after-lost" in codes(outcome)


def test_a_repair_does_not_lift_the_lock_on_unfit_gear_and_an_inspection_does():
    bent = event(Kind.FOUND_DAMAGED, 1, 5, data={"grade": "unfit"})
    mended = event(Kind.REPAIRED, 2, 6, data={"grade": "sound"})
    passed = event(Kind.INSPECTED, 3, 7, data={"grade": "sound"})
    start = out_and_set()[:1]
    assert folded([*start, bent, mended]).state.fitness == "unfit"
    assert folded([*start, bent, mended, passed]).state.fitness == "sound"


@pytest.mark.parametrize("links", [1, 2, 3, 4])
def test_a_reversal_can_itself_be_reversed(links):
    chain = [event(Kind.CAST, 4, 10, place=POUR)]
    for n in range(links):
        chain.append(event(Kind.REVERSED, 5, 11 + n, target=chain[-1].id))
    assert folded([*out_and_set(), *chain]).state.uses == (1 if links % 2 == 0 else 0)


def test_what_moves_a_crate_moves_what_is_listed_in_it():
    crate = Group(GroupKind.CRATE, CRATE)
    events = [
        event(Kind.REGISTERED, 0, 1, place=YARD, data={"crate": CRATE}),
        event(Kind.SENT, 1, 2, group=crate, docket=D),
    ]
    state = folded(events).state
    assert (state.docket, state.crate) == (D, CRATE)
