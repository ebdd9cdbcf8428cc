"""What pours need beside the edge forms, day by day: against a plain walk over every day."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from math import ceil

from hypothesis import given
from hypothesis import strategies as st

from jobs.planning.goods import GoodsNeed, against, deliveries, goods_needs
from jobs.planning.outline import rectangle
from jobs.planning.panels import Panel
from jobs.planning.rules import Rule
from jobs.planning.takeoff import TakeoffRequest, take_off

FIRST = date(2027, 3, 1)
CLAMPS = Rule("clamps", "corner clamp", "corner", spare_percent=Decimal(10))
SOCKETS = Rule("sockets", "insert", "panel", quantity=Decimal(3), used_up=True)
TOOLS = Rule("tools", "tool", "crew")


def day(number: int) -> date:
    return FIRST + timedelta(days=number)


spans = st.lists(
    st.tuples(st.integers(0, 12), st.integers(1, 5)).map(lambda s: (day(s[0]), day(s[0] + s[1]))),
    min_size=1,
    max_size=6,
)
stocks = st.dictionaries(st.integers(-3, 15), st.integers(0, 20), max_size=5).map(
    lambda steps: tuple((day(at), steps[at]) for at in sorted(steps))
)


def needs(held, rules=(CLAMPS, SOCKETS, TOOLS), past=()):
    panels = [Panel(f"A{n}", rectangle(6000, 3000), 150, pour=f"P{n}") for n in range(len(held))]
    days = {f"P{n}": span for n, span in enumerate(held)}
    return {need.what: need for need in goods_needs(take_off(TakeoffRequest(panels, rules)), rules, days, past)}


def level(steps, on):
    return next((count for since, count in reversed(steps) if since <= on), 0)


@given(spans)
def test_gear_that_comes_back_is_needed_while_a_pour_holds_it(held):
    need = needs(held)["corner clamp"]
    for number in range(-1, 20):
        holding = sum(start <= day(number) < until for start, until in held)
        assert level(need.steps, day(number)) == 4 * holding
    assert need.send == ceil(need.most * 1.1)


@given(spans)
def test_what_is_used_up_is_needed_for_good_from_the_day_its_pour_is_set(held):
    need = needs(held)["insert"]
    for number in range(-1, 20):
        assert level(need.steps, day(number)) == 3 * sum(start <= day(number) for start, _ in held)


@given(spans)
def test_the_tools_of_a_crew_are_needed_from_the_first_day_on(held):
    assert needs(held)["tool"].steps == ((min(start for start, _ in held), 1),)


@given(spans, stocks)
def test_the_lack_is_the_greatest_of_any_day(held, stock):
    need = needs(held)["corner clamp"]
    lacks = {n: level(need.steps, day(n)) - level(stock, day(n)) for n in range(20) if level(need.steps, day(n))}
    found = against(need, stock)
    assert found.short == max(0, *lacks.values()) and found.spare == -max(lacks.values())
    short_days = [day(n) for n, lack in sorted(lacks.items()) if lack > 0]
    assert found.first == (short_days[0] if short_days else None)


@given(spans, stocks, st.integers(0, 5))
def test_more_stock_never_lacks_more(held, stock, more):
    need = needs(held)["insert"]
    richer = tuple((at, count + more) for at, count in stock)
    assert against(need, richer).short <= against(need, stock).short


@given(spans)
def test_trucks_bring_all_that_is_to_be_sent_and_always_enough_in_time(held):
    for need in needs(held).values():
        brought = deliveries(need)
        assert sum(count for _, count in brought) == need.send
        for at, wanted in need.steps:
            assert sum(count for when, count in brought if when <= at) >= wanted


def test_a_pour_that_is_cast_has_had_its_inserts_and_still_holds_its_clamps():
    held = [(day(0), day(3)), (day(1), day(4))]
    found = needs(held, past=("P0",))
    assert found["insert"].most == 3 and found["corner clamp"].most == 8


def test_nothing_is_needed_of_a_job_without_days():
    assert goods_needs(take_off(TakeoffRequest([], [CLAMPS])), [CLAMPS], {}) == ()
    assert against(GoodsNeed("x", False, False, (), 0, Decimal(0)), ()).short == 0
