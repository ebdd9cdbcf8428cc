"""The cheapest offers that turn an answer, against every choice of offers and of runs tried one by one."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.planning.checker import faults_of, measures_of
from jobs.planning.cover import check
from jobs.planning.limits import Limits
from jobs.planning.remedies.buy import Source, buy
from jobs.planning.remedies.chase import Held, chase
from jobs.planning.remedies.clean_first import Waiting, clean_first
from jobs.planning.remedies.extras import coverable, least_price
from jobs.planning.remedies.offers import Change, Offer, days_needed, with_taken
from jobs.planning.remedies.shortage import Shortage
from jobs.planning.request import CoverRequest
from tests.jobs.planning.cover_samples import asked, best_by_trying_all, day, form, run


def short_request(seed: int) -> CoverRequest:
    """A few runs and types, in one section or two, with little on hand."""
    rng = random.Random(seed)
    pieces = [
        form(length, rng.choice([0, 1, 1]), (0, rng.randint(0, 1)), (2, rng.randint(0, 2)), section=section)
        for section in ((150,) if rng.random() < 0.7 else (150, 200))
        for length in rng.sample(range(2000, 6001, 500), 3)
    ]
    sections = sorted({piece.section_mm for piece in pieces})
    runs = []
    for _ in range(rng.randint(2, 4)):
        start = rng.randint(0, 3)
        runs.append(run(rng.randrange(2000, 6500, 100), start, start + rng.randint(1, 3), section=rng.choice(sections)))
    request = asked(pieces, runs)
    return coverable(request, check(request))


def offers_for(request: CoverRequest, seed: int) -> list[Offer]:
    rng = random.Random(seed)
    return [
        Offer(
            str(at),
            rng.randint(1, 5),
            rng.randint(1, 2),
            (Change(piece.code, 1, day(rng.randint(0, 2)), rng.choice([None, None, day(5)])),),
        )
        for at, piece in enumerate(request.pieces * 2)
        if rng.random() < 0.6
    ]


def cheapest_by_trying_all(request: CoverRequest, offers: list[Offer]) -> int | None:
    prices = []
    for counts in product(*(range(offer.most + 1) for offer in offers)):
        taken = {offer.key: count for offer, count in zip(offers, counts, strict=True)}
        price = sum(offer.price * taken[offer.key] for offer in offers)
        if prices and price >= min(prices):
            continue
        best = best_by_trying_all(with_taken(request, offers, taken))
        if best is not None and best[0] == 0:
            prices.append(price)
    return min(prices, default=None)


@pytest.mark.parametrize("seed", range(23))
def test_the_price_is_the_least_of_all_choices(seed: int):
    request = short_request(seed)
    offers = offers_for(request, seed)[:5]
    if not request.runs:
        return
    found = least_price(request, offers, Limits())
    least = cheapest_by_trying_all(request, offers)
    assert found.proved and found.turns is (least is not None)
    if least is not None:
        assert (found.price, found.bound) == (least, least)
        asked_then = with_taken(request, offers, found.taken)
        assert not faults_of(asked_then, found.runs) and measures_of(asked_then, found.runs).short_mm == 0


def test_enough_of_these_samples_are_short_for_the_comparison_to_mean_something():
    turned = [seed for seed in range(23) if (request := short_request(seed)).runs and request.pieces]
    assert len(turned) >= 12


def two_runs_one_form() -> CoverRequest:
    """Two runs of 5.5 m at once, and one form of 6 m: one more is lacking from day 0 to day 3."""
    return asked([form(6000, 1, (0, 1)), form(3000, 1, (0, 0)), form(3000, 0, (0, 0))], [run(5500), run(5500)])


def test_one_dirty_form_cleaned_first_is_enough_and_is_needed_on_the_first_day():
    request = two_runs_one_form().with_stock({"150-6000-1": [(day(0), 1), (day(2), 3)]})
    waiting = [Waiting(tag, "150-6000-1", "clean", day(0), day(2)) for tag in ("T2", "T1")]
    answer = clean_first(Shortage(request), waiting, Limits())
    assert [(piece.tag, piece.need, piece.day) for piece in answer.pieces] == [("T1", "clean", day(0))]
    assert answer.found.proved and (answer.found.price, answer.found.bound) == (1, 1)


def test_a_piece_that_would_be_ready_too_late_is_of_no_use():
    answer = clean_first(
        Shortage(two_runs_one_form()), [Waiting("T1", "150-6000-1", "clean", day(1), day(2))], Limits()
    )
    assert not answer.found.turns and answer.found.proved and answer.pieces == ()


def test_one_long_piece_mended_beats_two_short_ones_cleaned():
    waiting = [
        Waiting("A", "150-3000-1", "clean", day(0)),
        Waiting("B", "150-3000-0", "clean", day(0)),
        Waiting("C", "150-6000-1", "mend", day(0)),
    ]
    answer = clean_first(Shortage(two_runs_one_form()), waiting, Limits())
    assert [piece.tag for piece in answer.pieces] == ["C"]


def test_of_as_many_pieces_those_to_clean_come_before_those_to_mend():
    waiting = [
        Waiting("A", "150-6000-1", "mend", day(0)),
        Waiting("B", "150-6000-1", "clean", day(0)),
    ]
    assert [piece.tag for piece in clean_first(Shortage(two_runs_one_form()), waiting, Limits()).pieces] == ["B"]


def test_overdue_gear_is_asked_back_before_gear_that_is_only_due():
    held = [Held("J2", "150-6000-1", 3, day(0), day(9)), Held("J3", "150-6000-1", 3, day(0), None)]
    answer = chase(Shortage(two_runs_one_form()), held, Limits())
    assert [(line.holder, line.count, line.day) for line in answer.lines] == [("J3", 1, day(0))]
    assert (answer.found.price, answer.found.bound) == (1, 1)


def test_nothing_held_turns_nothing_and_that_is_proved():
    found = chase(Shortage(two_runs_one_form()), [], Limits()).found
    assert (found.turns, found.proved) == (False, True)


def test_the_cheapest_list_is_not_the_shortest_one():
    """One of 6 m costs 400; a splayed and a square one of 3 m cost 150 together with a joint: the job needs one run."""
    sources = [
        Source("long", "150-6000-1", 40_000, day(0)),
        Source("splayed", "150-3000-1", 9_000, day(0)),
        Source("square", "150-3000-0", 6_000, day(0)),
    ]
    answer = buy(Shortage(two_runs_one_form()), sources, Limits())
    assert {line.code: line.count for line in answer.lines} == {"150-3000-1": 1, "150-3000-0": 1}
    assert answer.found.price == answer.found.bound == 15_000 and answer.found.proved


def test_what_comes_too_late_is_not_bought():
    sources = [Source("cheap", "150-6000-1", 100, day(1)), Source("dear", "150-6000-1", 900, day(0))]
    assert [line.key for line in buy(Shortage(two_runs_one_form()), sources, Limits()).lines] == ["dear"]


def test_a_source_that_has_only_so_many_gives_no_more():
    request = asked([form(6000, 1, (0, 0))], [run(5500), run(5500)])
    sources = [Source("a", "150-6000-1", 100, day(0), most=1), Source("b", "150-6000-1", 700, day(0))]
    assert {line.key: line.count for line in buy(Shortage(request), sources, Limits()).lines} == {"a": 1, "b": 1}


def test_a_pool_is_not_overdrawn():
    """Two ways to use one bar: both runs cannot have it."""
    request = asked([form(6000, 1, (0, 0)), form(3000, 1, (0, 0))], [run(5500), run(2500)])
    ways = [
        Offer("long", 1, 1, (Change("150-6000-1", 1, day(0)),), "bar"),
        Offer("short", 1, 1, (Change("150-3000-1", 1, day(0)),), "bar"),
    ]
    assert not least_price(request, ways, Limits(), {"bar": 1}).turns
    assert least_price(request, ways, Limits(), {"bar": 2}).turns


def test_an_offer_that_takes_something_away_is_not_taken_beyond_what_is_there():
    """A form of 6 m cut into two of 3 m makes one run, and is then gone for the other."""
    pieces = [form(6000, 1, (0, 1)), form(3000, 1, (0, 0))]
    cut = Offer("cut", 1, 1, (Change("150-6000-1", -1, day(0)), Change("150-3000-1", 2, day(0))))
    assert least_price(asked(pieces, [run(2500), run(2500)]), [cut], Limits()).turns
    assert not least_price(asked(pieces, [run(5500), run(2500)]), [cut], Limits()).turns


def test_the_nth_piece_is_needed_on_the_first_day_that_n_are_lacking():
    request = asked([form(6000, 1, (0, 1), (4, 0))], [run(5500, 0, 6), run(5500, 2, 3), run(5500, 5, 6)])
    plan = check(request.with_stock({"150-6000-1": [(day(0), 9)]})).runs
    assert days_needed(request, plan, "150-6000-1") == [day(2), day(5)]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000))
def test_more_stock_or_cheaper_offers_never_make_it_dearer(seed: int):
    request = short_request(seed)
    offers = offers_for(request, seed)[:5]
    if not request.runs:
        return
    before = least_price(request, offers, Limits())
    more = request.with_stock({p.code: [(d, n + 1) for d, n in p.on_hand] for p in request.pieces[:1]})
    halved = [replace(offer, price=-(-offer.price // 2)) for offer in offers]
    if before.turns:
        richer, cheaper = least_price(more, offers, Limits()), least_price(request, halved, Limits())
        assert richer.turns and richer.price <= before.price
        assert cheaper.turns and cheaper.price <= before.price
