"""Remedies for what is short beside the edge forms: brackets, clamps, plates, tools and counted goods."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import combinations_with_replacement, product

import pytest

from jobs.planning.limits import Limits
from jobs.planning.remedies.articles import Article, cheapest
from jobs.planning.remedies.buy import Source, buy
from jobs.planning.remedies.chase import Held, chase
from jobs.planning.remedies.clean_first import Waiting, clean_first
from jobs.planning.remedies.mill_ways import ways_from_mill
from jobs.planning.remedies.mixing import Means, mix
from jobs.planning.remedies.move_pours import Bounds, move_pours
from jobs.planning.remedies.new_bars import MillLength
from jobs.planning.remedies.offers import Change, Offer
from jobs.planning.remedies.shortage import FORMS, Shortage
from jobs.planning.remedies.wait import wait
from jobs.planning.request import CoverRequest, PieceType, Rules
from tests.jobs.planning.cover_samples import asked, day, form, run
from tests.jobs.remedies.test_move_pours import timeline_of, two_pours

SPANS = {"P1": (day(0), day(3)), "P2": (day(2), day(5))}


def clamps(stock, used_up=False, one=4, two=4) -> Article:
    needs = (("P1", Decimal(one)), ("P2", Decimal(two)))
    return Article("C", "clamp", needs, Decimal(0), used_up, tuple((day(n), count) for n, count in stock))


def plainly_short(article: Article, stock_on, last: int = 12) -> bool:
    """Counted day by day, without steps: what pours of the day hold, or all set so far of what is used up."""
    for n in range(-2, last):
        held = sum(
            quantity
            for pour, quantity in article.by_pour
            if SPANS[pour][0] <= day(n) and (article.used_up or day(n) < SPANS[pour][1])
        )
        if held > stock_on(day(n)):
            return True
    return False


@pytest.mark.parametrize("seed", range(40))
def test_the_cheapest_offers_are_those_that_trying_all_finds(seed: int):
    rng = random.Random(seed)
    stock = [(-5, rng.randint(0, 6)), (rng.randint(0, 4), rng.randint(0, 9))]
    article = clamps(stock, used_up=rng.random() < 0.3, one=rng.randint(1, 5), two=rng.randint(0, 5))
    offers = []
    for at in range(rng.randint(1, 4)):
        start = rng.randint(-1, 3)
        until = rng.choice([None, day(start + rng.randint(1, 4))])
        offers.append(Offer(str(at), rng.randint(1, 5), rng.randint(1, 3), (Change("C", 1, day(start), until),)))
    least = None
    for counts in product(*(range(offer.most + 1) for offer in offers)):

        def on(d, counts=counts):
            base = [count for n, count in stock if day(n) <= d]
            return base[-1] * bool(base) + sum(c * o.changes[0].on(d) for c, o in zip(counts, offers, strict=True))

        if not plainly_short(article, on):
            price = sum(offer.price * count for offer, count in zip(offers, counts, strict=True))
            least = price if least is None else min(least, price)
    found = cheapest(article, SPANS, offers)
    assert found.proved and (found.price if found.turns else None) == least


def test_two_pours_share_on_the_day_both_hold_theirs():
    """Four for P1 on days 0 to 2, four for P2 on days 2 to 4: eight on day 2 alone; with six, two are lacking."""
    assert [(d, n) for d, n in clamps([(-5, 6)]).lacks(SPANS) if n] == [(day(2), 2)]
    assert clamps([(-5, 6)], used_up=True).days_needed(SPANS) == [day(2), day(2)]


def test_clamps_are_cleaned_by_tag_asked_back_by_tag_and_bought_by_type():
    short = Shortage(None, (clamps([(-5, 6)]),), SPANS)
    waiting = [Waiting(tag, "C", "clean", day(1)) for tag in ("T3", "T1", "T2")]
    cleaned = clean_first(short, waiting, Limits())
    assert [(piece.tag, piece.day) for piece in cleaned.pieces] == [("T1", day(2)), ("T2", day(2))]
    back = chase(short, [Held("J2", "C", 5, day(1), None, ("A", "B", "D", "E", "F"))], Limits())
    assert [(line.count, line.tags) for line in back.lines] == [(2, ("A", "B"))]
    bought = buy(short, [Source("dear", "C", 900, day(0)), Source("cheap", "C", 500, day(1), most=1)], Limits())
    assert {line.key: line.count for line in bought.lines} == {"dear": 1, "cheap": 1}
    assert bought.found.proved and bought.found.price == 1_400


def forms_and_clamps() -> Shortage:
    """One form of 6 m too few, and two clamps."""
    request = asked([form(6000, 1, (0, 1))], [run(5500), run(5500)])
    return Shortage(request, (clamps([(-5, 6)]),), SPANS)


def test_what_turns_the_forms_alone_does_not_turn_the_job_and_says_what_stays_short():
    waiting = [Waiting("T1", "150-6000-1", "clean", day(0))]
    found = clean_first(forms_and_clamps(), waiting, Limits()).found
    assert not found.turns and found.proved and found.without == ("clamp",)
    found = clean_first(forms_and_clamps(), [Waiting(t, "C", "clean", day(1)) for t in "AB"], Limits()).found
    assert not found.turns and found.without == (FORMS,)


def test_several_at_once_clean_what_can_be_cleaned_and_buy_the_rest():
    """Cleaning one form and one clamp costs nothing; the second clamp is bought at 5.00. All bought: 65.00 + 10.00."""
    short = forms_and_clamps()
    means = Means(
        waiting=[Waiting("T1", "150-6000-1", "clean", day(0)), Waiting("T2", "C", "clean", day(1))],
        sources=[Source("form", "150-6000-1", 6_500, day(0)), Source("clamp", "C", 500, day(0))],
    )
    answer = mix(short, two_pours(), means, 0, Limits())
    assert (answer.days, answer.cents, answer.kinds) == (0, 500, 2)
    assert [piece.tag for piece in answer.clean] == ["T1", "T2"]
    assert [(line.code, line.count) for line in answer.bought] == [("C", 1)]
    assert buy(short, means.sources, Limits()).found.price == 7_500


def test_several_at_once_cut_from_mill_bars_what_is_dearer_to_buy():
    """A bar of 6 m for 40.00 makes the form that costs 65.00 to buy; bars make no clamps, so two are bought for 10.00.
    Bars of 12 m come too late; where there is no bar of 6 m either all is bought."""
    short = forms_and_clamps()
    sources = [Source("form", "150-6000-1", 6_500, day(0)), Source("clamp", "C", 500, day(0))]
    late, bar = MillLength(150, 12_005, 5_000, day(3)), MillLength(150, 6000, 4_000, day(0), 1)
    answer = mix(short, two_pours(), Means(sources=sources, mill=[late, bar], kerf_mm=5), 0, Limits())
    assert (answer.cents, answer.kinds, answer.into) == (5_000, 2, None)
    [cut] = answer.bars
    assert (cut.bar_mm, cut.times, [form.code for form in cut.forms]) == (6000, 1, ["150-6000-1"])
    none = mix(short, two_pours(), Means(sources=sources, mill=[late, replace(bar, count=0)], kerf_mm=5), 0, Limits())
    assert none.cents == 7_500 and not none.bars


def test_every_way_to_cut_a_bar_is_looked_at():
    """Of 1 m and 2 m forms with a cut of 10 mm a bar of 4 m holds one of each or three of 1 m: 2 + 2 m and a cut are
    4.01 m. Compared with all multisets of at most four."""
    mm = {"A": 1000, "B": 2000}
    kinds = tuple(PieceType(code, 150, length, 0) for code, length in mm.items())
    short = Shortage(CoverRequest(Rules(0, 0, 3, 0, 0), kinds, ()), (), {})
    found = ways_from_mill(short, [MillLength(150, 4000, 1, day(0))], 10)
    every = [way for count in range(1, 5) for way in combinations_with_replacement("BA", count)]
    room = [way for way in every if sum(mm[code] + 10 for code in way) <= 4010]
    full = {way for way in room if not any(len(b) > len(way) and not Counter(way) - Counter(b) for b in room)}
    assert {tuple(form.code for form in forms) for _, forms in found.ways} == full == {("B", "A"), ("A", "A", "A")}
    assert found.into is None


def test_where_nothing_is_enough_today_a_later_start_with_everything_is_looked_for():
    """Two pours at once with one form; a second can be had from Wed 10 March, six working days after Tue 2 March
    (Monday 8 is a holiday): both are set then."""
    timeline = two_pours()
    short = Shortage(timeline.request, (), timeline.spans({}))
    answer = mix(short, timeline, Means(sources=[Source("late", "150-6000-1", 100, date(2027, 3, 10))]), 20, Limits())
    shifts = dict.fromkeys(("P1", "P2"), answer.days or 0)
    assert timeline.moved(shifts).runs[0].start >= date(2027, 3, 10)
    earlier = timeline.moved(dict.fromkeys(shifts, (answer.days or 0) - 1))
    assert earlier.runs[0].start < date(2027, 3, 10) and answer.cents == 100


def with_clamps(count: int, **given):
    """Two pours at once with forms enough and `count` clamps of the eight that both need."""
    timeline = two_pours(**given)
    request = timeline.request.with_stock({"150-6000-1": [(date(2027, 2, 1), 9)]})
    article = replace(clamps([]), stock=((date(2027, 2, 1), count), (date(2027, 3, 16), 8)))
    return replace(timeline, request=request, articles=(article,))


def test_pours_are_moved_apart_for_clamps_as_for_forms():
    bounds = Bounds(date(2027, 2, 26), earlier=0, later=5)
    answer = move_pours(with_clamps(4), bounds, Limits())
    assert answer.shifts is not None and sorted(answer.shifts.values()) == [3] and answer.proved
    assert move_pours(with_clamps(3), bounds, Limits()).shifts is None
    assert move_pours(with_clamps(8), bounds, Limits()).shifts == {}


def test_waiting_waits_for_clamps_too():
    """Eight on Tue 16 March: both are set then at the soonest."""
    timeline = with_clamps(4)
    answer = wait(timeline, 20, Limits())
    assert answer.start == date(2027, 3, 16) and answer.proved
    never = replace(timeline, articles=(replace(timeline.articles[0], stock=((date(2027, 2, 1), 3),)),))
    assert (wait(never, 20, Limits()).days, wait(never, 20, Limits()).proved) == (None, True)


def test_a_section_that_is_covered_as_it_stands_still_counts_when_the_job_waits():
    """The form of section 150 is there from Wed 10 March, that of section 200 gone from Tue 9: no start has both."""
    here, there = form(6000, 1), form(6000, 1, section=200)
    timeline = timeline_of({"P1": date(2027, 3, 3)}, [here, there], {"P1": [5500]})
    runs = (*timeline.request.runs, replace(timeline.request.runs[0], side="P1/2", section_mm=200))
    stock = {here.code: [(date(2027, 3, 10), 1)], there.code: [(date(2027, 2, 1), 1), (date(2027, 3, 9), 0)]}
    both = replace(timeline, request=replace(timeline.request, runs=runs).with_stock(stock))
    assert wait(both, 20, Limits()).days is None
    stock[there.code] = [(date(2027, 2, 1), 1)]
    assert wait(replace(both, request=both.request.with_stock(stock)), 20, Limits()).days is not None
