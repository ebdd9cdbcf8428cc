"""All jobs on one stock: against a plain count of every day, and, for slack, against flow on a network of days.

The flow is networkx's maximum flow with lower bounds taken out in the usual way (Ahuja, Magnanti and Orlin, Network
Flows, section 6.7): units wait in the yard from day to day, and a job's units are out from load day to return.
"""

from __future__ import annotations

from datetime import date, timedelta

import networkx as nx
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.calendars.working import WorkingCalendar
from jobs.planning.availability import Claim, Lot
from jobs.planning.fleet import (
    FOR_GOOD,
    Fleet,
    Taking,
    breaks,
    does_not_come,
    fails,
    levels,
    returns,
    run_late,
    slack_of,
)

FIRST = date(2027, 3, 1)
LAST = 40


def day(number: int) -> date:
    return FIRST + timedelta(days=number)


def fleet(stock: int, *jobs: tuple[int, int, int]) -> Fleet:
    """(first day, day back, count) of each job, named J0, J1 ..."""
    takings = [
        Taking(f"J{at}", Claim("A", ((day(start), count),), 0, day(back)))
        for at, (start, back, count) in enumerate(jobs)
    ]
    return Fleet((Lot("A", stock, FIRST),), tuple(takings))


@st.composite
def fleets(draw):
    jobs = draw(
        st.lists(
            st.tuples(st.integers(0, 15), st.integers(1, 8), st.integers(1, 4)).map(
                lambda j: (j[0], j[0] + j[1], j[2])
            ),
            min_size=1,
            max_size=5,
        )
    )
    return draw(st.integers(1, 9)), jobs


def over_on(stock, jobs, number):
    return stock - sum(count for start, back, count in jobs if start <= number < back)


@given(fleets())
def test_levels_are_what_a_count_of_every_day_gives(made):
    steps = levels(fleet(made[0], *made[1]), FIRST, day(LAST))["A"]
    for number in range(LAST):
        level = [one for one in steps if one.day <= day(number)][-1]
        assert level.over == over_on(*made, number)


@given(fleets())
def test_every_day_that_lacks_is_in_a_break_and_no_other(made):
    found = breaks(fleet(made[0], *made[1]), FIRST, day(LAST))
    for number in range(LAST):
        inside = [one for one in found if one.first <= day(number) < one.until]
        assert bool(inside) == (over_on(*made, number) < 0)
    for one in found:
        days = [number for number in range(LAST) if one.first <= day(number) < one.until]
        assert one.lack == max(-over_on(*made, number) for number in days)
        starts = {f"J{at}": start for at, (start, back, _) in enumerate(made[1]) if start <= days[0] < back}
        assert starts[one.job] == max(starts.values())


def can_be_met(stock: int, jobs: list[tuple[int, int, int]]) -> bool:
    """Whether a flow of units through the days serves every job from its first day to its return."""
    graph, demand = nx.DiGraph(), {}
    for number in range(LAST):
        graph.add_edge(number, number + 1, capacity=stock)
    for start, back, count in jobs:
        demand[start] = demand.get(start, 0) + count
        demand[back] = demand.get(back, 0) - count
    graph.add_edge("source", 0, capacity=stock)
    graph.add_edge(LAST, "sink", capacity=stock)
    for number, more in demand.items():
        if more > 0:
            graph.add_edge(number, "sink", capacity=more)
        elif more < 0:
            graph.add_edge("source", number, capacity=-more)
    wanted = stock + sum(-more for more in demand.values() if more < 0)
    return nx.maximum_flow_value(graph, "source", "sink") == wanted


@settings(max_examples=30)
@given(fleets(), st.integers(0, 4))
def test_a_return_may_slip_as_far_as_a_flow_through_the_days_allows(made, which):
    stock, jobs = made
    at = which % len(jobs)
    if not can_be_met(stock, jobs):
        return
    start, back, count = jobs[at]
    whole = fleet(stock, *jobs)
    mine = next(one for one in returns(whole, FIRST) if one.job == f"J{at}" and one.day == day(back))
    slip = slack_of(mine, whole, day(LAST)).slip
    limit = LAST - back - 1
    by_flow = next(
        (
            late
            for late in range(limit)
            if not can_be_met(stock, [*jobs[:at], (start, back + late + 1, count), *jobs[at + 1 :]])
        ),
        None,
    )
    assert slip == by_flow


def test_the_slack_names_the_job_that_breaks_and_what_to_collect_first():
    """J1 brings 4 of A and 4 of B back on day 5. Of A there are 5, and J2 takes 3 from day 8: 5 - 3 = 2 are over, so 2
    of the 4 must be back by then, 8 - 5 = 3 days late at most. Of B there are 4, and J3 takes all 4 on day 10: none is
    over, all 4 must be back, 5 days late at most. So the truck may slip 3 days, J2 breaks first, A is collected first.
    """
    takings = (
        Taking("J1", Claim("A", (), 4, day(5))),
        Taking("J1", Claim("B", (), 4, day(5))),
        Taking("J2", Claim("A", ((day(8), 3),), 0, day(12))),
        Taking("J3", Claim("B", ((day(10), 4),), 0, day(14))),
    )
    lots = (Lot("A", 5, FIRST), Lot("B", 4, FIRST))
    (back, *_) = returns(Fleet(lots, takings), FIRST)
    slack = slack_of(back, Fleet(lots, takings), day(LAST))
    assert (slack.slip, slack.job) == (3, "J2")
    assert [(one.code, one.wanted, one.needed, one.job) for one in slack.types] == [
        ("A", 2, day(8), "J2"),
        ("B", 4, day(10), "J3"),
    ]


def test_a_return_that_nothing_waits_for_may_slip_for_ever():
    whole = fleet(9, (0, 5, 3), (6, 9, 4))
    assert slack_of(returns(whole, FIRST)[0], whole, day(LAST)).slip is None


def test_a_job_that_runs_late_breaks_the_next_by_working_days():
    whole = fleet(4, (0, 4, 4), (7, 10, 4))
    assert breaks(whole, FIRST, day(LAST)) == []
    late = run_late(whole, "J0", 2, WorkingCalendar())
    (one,) = breaks(late, FIRST, day(LAST))
    assert (one.first, one.until, one.lack, one.job) == (day(7), day(8), 4, "J1")


def test_a_truck_that_does_not_come_is_missed_for_good_and_only_its_own_gear():
    whole = fleet(4, (0, 4, 2), (6, 10, 4), (20, 24, 3))
    found = breaks(does_not_come(whole, "J0"), FIRST, day(LAST))
    assert [(one.first, one.lack, one.job) for one in found] == [(day(6), 2, "J1"), (day(20), 1, "J2")]


def test_a_planned_partial_return_that_does_not_come_leaves_the_last_one_as_it_was():
    claim = Claim("A", ((day(0), 5), (day(4), 2)), 0, day(9))
    gone = does_not_come(Fleet((), (Taking("J", claim),)), "J", day(4)).takings[0].claim
    assert [gone.taken_on(day(n)) for n in (0, 4, 8, 9, 30)] == [5, 5, 5, 3, 3]


def test_pieces_that_fail_are_missed_from_that_day():
    whole = fails(fleet(5, (2, 6, 5)), "A", 1, FIRST)
    (one,) = breaks(whole, FIRST, day(LAST))
    assert (one.first, one.lack, one.job) == (day(2), 1, "J0")


@given(fleets(), st.integers(1, 5))
def test_failing_pieces_and_late_jobs_never_mend_a_break(made, count):
    whole = fleet(made[0], *made[1])
    lacks = sum(-min(0, over_on(*made, n)) for n in range(LAST))
    for worse in (
        fails(whole, "A", count, FIRST),
        run_late(whole, "J0", count, WorkingCalendar()),
        does_not_come(whole, "J0"),
    ):
        steps = levels(worse, FIRST, day(LAST))["A"]
        at = [[one for one in steps if one.day <= day(n)][-1].over for n in range(LAST)]
        assert sum(-min(0, over) for over in at) >= lacks


def test_gear_that_is_overdue_has_no_return_and_stays_taken():
    whole = Fleet((Lot("A", 3, FIRST),), (Taking("J", Claim("A", (), 3, None)),))
    assert returns(whole, FIRST) == [] and levels(whole, FIRST, day(9))["A"][-1].over == 0
    assert does_not_come(whole, "J") == whole and date.max == FOR_GOOD
