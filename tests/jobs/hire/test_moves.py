"""Stays are folded from what was seen, in the order it happened, whatever order it arrived in."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.hire.adjust import BilledBefore, Period, statement
from jobs.hire.moves import Move, gather
from jobs.hire.stays import Facts
from jobs.hire.terms import Minimum, Price, Terms
from tests.jobs.hire.build import at, day, rate


def seen(kind, when, id, **more):
    more.setdefault("piece", "P1")
    more.setdefault("type", "EF-3000")
    more.setdefault("job", "J1" if kind in ("out", "across") else "")
    return Move(id, kind, when, **more)


def shown(moves, known_at=None):
    return [(one.id, one.out.day, one.back.day if one.back else None, one.end) for one in gather(moves, known_at).stays]


OUT, BACK = seen("out", at(3, 2), "E1"), seen("back", at(3, 16), "E2")


def test_a_piece_out_and_back_is_a_stay_that_names_its_events():
    (stay,) = gather([BACK, OUT]).stays
    assert (stay.id, stay.out_event, stay.back_event) == ("E1/P1", "E1", "E2")
    assert gather([OUT]).stays[0].back is None
    assert gather([OUT]).jobs == {"E1/P1": "J1"}


def test_a_reversed_return_never_was_and_reversing_that_brings_it_back():
    wrong = seen("reversed", at(3, 17), "E3", target="E2")
    again = seen("reversed", at(3, 18), "E4", target="E3")
    assert shown([OUT, BACK, wrong]) == [("E1/P1", 2, None, "returned")]
    assert shown([again, wrong, BACK, OUT]) == [("E1/P1", 2, 16, "returned")]


def test_going_across_ends_one_stay_and_starts_the_next_at_one_instant():
    across = seen("across", at(3, 10), "E5", job="J2")
    gathered = gather([OUT, across, BACK])
    assert shown([OUT, across, BACK]) == [("E1/P1", 2, 10, "returned"), ("E5/P1", 10, 16, "returned")]
    assert gathered.jobs == {"E1/P1": "J1", "E5/P1": "J2"}
    assert gathered.findings == []


def test_a_lost_piece_found_on_site_goes_on_with_its_stay_and_one_found_in_the_yard_ends_it():
    lost = seen("lost", at(3, 8), "E6")
    assert shown([OUT, lost]) == [("E1/P1", 2, 8, "lost")]
    assert shown([OUT, lost, seen("found", at(3, 9), "E7")]) == [("E1/P1", 2, None, "returned")]
    assert shown([OUT, lost, BACK]) == [("E1/P1", 2, 16, "returned")]


def test_off_hire_receipt_collection_and_settlement_are_kept_on_the_stay():
    moves = [
        OUT,
        seen("received", at(3, 3), "E7"),
        seen("off_hire", at(3, 9), "E8"),
        seen("collected", at(3, 10), "E9"),
        seen("lost", at(3, 11), "E10"),
        seen("settled", at(3, 20), "E11"),
    ]
    (stay,) = gather(moves).stays
    days = [one.day for one in (stay.received, stay.off_hire, stay.collected, stay.settled)]
    assert days == [3, 9, 10, 20]


def test_an_exchange_continues_the_stay_of_the_piece_it_replaced():
    new = seen("out", at(3, 6), "E12", piece="P2", replaces="P1")
    gathered = gather([OUT, seen("back", at(3, 6), "E13"), new])
    assert {one.id: one.continues for one in gathered.stays} == {"E1/P1": "", "E12/P2": "E1/P1"}
    unknown = gather([new])
    assert [one.move for one in unknown.findings] == ["E12"]


def test_casts_are_uses_of_the_stay_the_piece_was_on():
    gathered = gather([OUT, seen("cast", at(3, 4), "E14"), BACK, seen("cast", at(3, 20), "E15")])
    assert [(one.stay, one.event) for one in gathered.uses] == [("E1/P1", "E14")]
    assert [one.move for one in gathered.findings] == ["E15"]


def test_what_does_not_add_up_is_for_review_and_nothing_is_lost():
    twice = seen("out", at(3, 10), "E16", job="J2")
    gathered = gather([OUT, twice])
    assert shown([OUT, twice]) == [("E1/P1", 2, 10, "returned"), ("E16/P1", 10, None, "returned")]
    assert [one.move for one in gathered.findings] == ["E16"]
    assert [one.move for one in gather([BACK]).findings] == ["E2"]


def test_goods_by_count_come_back_first_out_first():
    # Out 100 bolts on the 2nd and 50 on the 9th; back 120 on the 16th: all of the first and 20 of the second.
    # First out, first back where pieces bear no tag: common practice, no source.
    bolts = {"type": "BT-16", "by_count": True, "piece": "", "job": "J1"}
    moves = [
        seen("out", at(3, 2), "E1", count=100, **bolts),
        seen("out", at(3, 9), "E2", count=50, **bolts),
        seen("back", at(3, 16), "E3", count=120, **bolts),
    ]
    found = [(one.id, one.group, one.count, one.back is not None) for one in gather(moves).stays]
    assert found == [("E1/1", "E1", 100, True), ("E2/1", "E2", 20, True), ("E2/2", "E2", 30, False)]
    more = seen("back", at(3, 17), "E4", count=31, **bolts)
    assert [one.sentence for one in gather([*moves, more]).findings] == [
        "1 more of BT-16 back than were out on the job."
    ]


def test_what_was_recorded_later_is_not_yet_known():
    late = replace(BACK, recorded=at(4, 8))
    assert shown([OUT, late], at(4, 1)) == [("E1/P1", 2, None, "returned")]
    assert shown([OUT, late], at(4, 9)) == [("E1/P1", 2, 16, "returned")]


# A yard in which anything is seen at any time, recorded late, reversed, and billed as it goes


@st.composite
def yards(draw):
    """Moves of a few pieces over four months, each recorded up to six weeks after it happened."""
    moves = []
    for number in range(draw(st.integers(1, 14))):
        happened = at(1, 5) + timedelta(hours=draw(st.integers(0, 24 * 120)))
        kind = draw(
            st.sampled_from(["out", "out", "back", "back", "across", "lost", "found", "sold", "cast", "off_hire"])
        )
        moves.append(
            seen(
                kind,
                happened,
                f"E{number:02}",
                piece=draw(st.sampled_from(["P1", "P2", "P3"])),
                line=draw(st.sampled_from(["", "D1"])),
                job="J1",
                recorded=happened + timedelta(hours=draw(st.integers(0, 24 * 42))),
            )
        )
    for number, target in enumerate(draw(st.lists(st.sampled_from(moves), max_size=3, unique_by=lambda m: m.id))):
        later = target.recorded + timedelta(days=draw(st.integers(0, 40)))
        moves.append(seen("reversed", later, f"R{number}", target=target.id, recorded=later))
    return moves


TERMS = Terms(
    rates=(rate(day="0.35", week="1.70", use="0.21"),), minimum=Minimum(days=7), replacement=(Price(Decimal("88.80")),)
)


def facts_of(moves, known_at, terms):
    gathered = gather(moves, known_at)
    return Facts(terms, tuple(gathered.stays), tuple(gathered.uses))


@pytest.mark.slow
@settings(max_examples=80, deadline=None)
@given(yards(), st.randoms(use_true_random=False))
def test_any_order_of_arrival_gives_the_same_stays(moves, chance: random.Random):
    shuffled = list(moves)
    chance.shuffle(shuffled)
    assert gather(shuffled) == gather(moves)


@pytest.mark.slow
@settings(max_examples=80, deadline=None)
@given(yards(), st.booleans())
def test_bills_made_as_things_became_known_add_up_to_what_is_known_at_last(moves, corrected):
    right = (replace(TERMS, id="right", rates=(rate(day="0.31", use="0.21"),)),)
    before: tuple[BilledBefore, ...] = ()
    total, since, then = Decimal(0), day(1, 1), None
    for month in range(2, 9):
        until, moment = day(month, 1), at(month, 3)
        hire = facts_of(moves, moment, right if corrected and month > 4 else (TERMS,))
        priced = statement(hire, Period(since, until), "AUD", None, before, then)
        before += tuple(BilledBefore(one.line, one.net) for one in priced.lines)
        total += priced.net
        assert all(bool(one.adjustment) == bool(one.causes) for one in priced.lines)
        since, then = until, hire
    last = facts_of(moves, None, right if corrected else (TERMS,))
    assert total == statement(last, Period(day(1, 1), day(8, 1)), "AUD").net
