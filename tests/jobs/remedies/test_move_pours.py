"""The fewest pours to move, against every choice of moves tried one by one, and what must be kept."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta
from itertools import product

import pytest

from jobs.calendars.working import WorkingCalendar
from jobs.planning.limits import Limits
from jobs.planning.pours import PourTimes
from jobs.planning.remedies.composing import covered_within
from jobs.planning.remedies.move_fewer import fewer_moves
from jobs.planning.remedies.move_master import Master
from jobs.planning.remedies.move_pours import Bounds, move_pours
from jobs.planning.remedies.timeline import PlannedPour, Timeline
from jobs.planning.remedies.trials import Trials
from jobs.planning.remedies.wait import wait
from jobs.planning.request import CoverRequest, Run
from tests.jobs.planning.cover_samples import RULES, best_by_trying_all, form

CALENDAR = WorkingCalendar(holidays=frozenset({date(2027, 3, 8)}))
MONDAY = date(2027, 3, 1)
BOUNDS = Bounds(today=date(2027, 2, 26), earlier=1, later=2)


def timeline_of(casts, pieces, runs_of, above=(), **given) -> Timeline:
    """Pours cast on those days; `runs_of` gives the lengths of each pour's runs."""
    times = PourTimes(set_days=1, cure_hours=18)
    pours = tuple(PlannedPour(name, cast, **given.get(name, {})) for name, cast in casts.items())
    bare = Timeline(CoverRequest(RULES, tuple(pieces), ()), pours, times, CALENDAR, tuple(above))
    runs = [
        Run(name, f"{name}/{at}", 150, length, *bare.days(name, 0).held)
        for name, lengths in runs_of.items()
        for at, length in enumerate(lengths, 1)
    ]
    return replace(bare, request=CoverRequest(RULES, tuple(pieces), tuple(runs)))


def steps(*levels):
    """Stock on hand from days counted from a fortnight before the first Monday."""
    return tuple(levels)


def a_job(seed: int) -> Timeline:
    rng = random.Random(seed)
    names = ["P1", "P2", "P3"][: rng.randint(2, 3)]
    casts = {name: CALENDAR.add(MONDAY, 2 + rng.randint(0, 3)) for name in names}
    pieces = [
        form(6000, 1, (-14, rng.randint(0, 2)), (rng.randint(2, 9), rng.randint(0, 3))),
        form(3000, 1, (-14, rng.randint(0, 1)), (rng.randint(2, 9), rng.randint(0, 2))),
        form(3000, 0, (-14, rng.randint(0, 1))),
    ]
    runs = {name: [rng.choice([2700, 5500, 5900]) for _ in range(rng.randint(1, 2))] for name in names}
    above = [("P1", "P2")] if rng.random() < 0.4 and casts["P1"] < casts["P2"] else []
    panels = {name: {"panels": rng.randint(1, 3)} for name in names}
    return timeline_of(casts, pieces, runs, above, **panels)


def is_kept(timeline: Timeline, shifts: dict[str, int], bounds: Bounds) -> bool:
    """Stack order, panels a day and what cannot be moved, read off plainly."""
    days = {name: timeline.days(name, shift) for name, shift in shifts.items()}
    for low, high in timeline.above:
        if (shifts[low] or shifts[high]) and days[high].set < days[low].strip:
            return False
    before, after = {}, {}
    for pour in timeline.pours:
        before[pour.cast] = before.get(pour.cast, 0) + pour.panels
        after[days[pour.name].cast] = after.get(days[pour.name].cast, 0) + pour.panels
        if shifts[pour.name] and days[pour.name].set <= bounds.today:
            return False
    most = bounds.panels_a_day or max(before.values())
    return all(count <= max(most, before.get(day, 0)) for day, count in after.items())


def fewest_by_trying_all(timeline: Timeline, bounds: Bounds) -> tuple[int, int] | None:
    names = [pour.name for pour in timeline.pours]
    worths = []
    for chosen in product(range(-bounds.earlier, bounds.later + 1), repeat=len(names)):
        worth = (sum(map(bool, chosen)), sum(map(abs, chosen)))
        shifts = dict(zip(names, chosen, strict=True))
        if (worths and worth >= min(worths)) or not is_kept(timeline, shifts, bounds):
            continue
        best = best_by_trying_all(timeline.moved(shifts))
        if best is not None and best[0] == 0:
            worths.append(worth)
    return min(worths, default=None)


@pytest.mark.parametrize("seed", range(30))
def test_the_fewest_pours_and_days_are_those_that_trying_all_finds(seed: int):
    timeline = a_job(seed)
    bounds = replace(BOUNDS, panels_a_day=4 if seed % 2 else None)
    answer = move_pours(timeline, bounds, Limits())
    fewest = fewest_by_trying_all(timeline, bounds)
    assert answer.proved and (answer.shifts is None) is (fewest is None)
    if fewest is not None and answer.shifts is not None:
        assert (len(answer.shifts), sum(map(abs, answer.shifts.values()))) == fewest
        assert answer.least == fewest[0]
        everything = {pour.name: 0 for pour in timeline.pours} | dict(answer.shifts)
        assert is_kept(timeline, everything, bounds)


def test_the_samples_hold_jobs_that_moves_turn_and_jobs_that_they_do_not():
    found = [fewest_by_trying_all(a_job(seed), BOUNDS) for seed in range(12)]
    assert None in found and any(worth and worth[0] for worth in found)


def two_pours(above=(), **given) -> Timeline:
    """Two pours cast on Wed 3 March with one form for each in all: one must wait until the other is stripped."""
    casts = {"P1": date(2027, 3, 3), "P2": date(2027, 3, 3)}
    return timeline_of(casts, [form(6000, 1, (-14, 1))], {"P1": [5500], "P2": [5500]}, above, **given)


def test_one_of_two_that_clash_moves_and_by_no_more_than_it_must():
    """Set Tue 2, cast Wed 3, stripped Thu 4, free Fri 5: the other is set on Fri 5 and cast on Tue 9, after the
    holiday on Mon 8; three working days later. Two days earlier will not do: free on Wed 3 at the soonest."""
    answer = move_pours(two_pours(), Bounds(date(2027, 2, 26), earlier=0, later=5), Limits())
    assert answer.shifts is not None and sorted(answer.shifts.values()) == [3] and answer.proved


def test_from_moves_that_do_fewer_are_found_among_those_that_move_and_those_beside_them():
    """Three clash; moved by 3, 6 and 9 days all three fit, though the first may as well stay. Two are the fewest: each
    holds the only form alone."""
    casts = {name: date(2027, 3, 3) for name in ("P1", "P2", "P3")}
    timeline = timeline_of(casts, [form(6000, 1, (-14, 1))], {name: [5500] for name in casts})
    master = Master(timeline, Bounds(date(2027, 2, 26), earlier=0, later=9))
    found = fewer_moves(Trials(timeline), master, {"P1": 3, "P2": 6, "P3": 9}, Limits())
    assert len(found) == 2 and covered_within(timeline.moved(found), Limits()).covered


def test_what_is_fixed_stays():
    answer = move_pours(two_pours(P1={"fixed": True}), Bounds(date(2027, 2, 26), 0, 5), Limits())
    assert answer.shifts == {"P2": 3}
    both = two_pours(P1={"fixed": True}, P2={"fixed": True})
    assert move_pours(both, BOUNDS, Limits()).shifts is None


def test_a_cycle_keeps_the_upper_level_away_from_the_lower_one():
    timeline = two_pours([("P1", "P2")], P1={"fixed": True})
    bounds = Bounds(date(2027, 2, 26), 0, 8, cycle_days=5)
    assert move_pours(timeline, bounds, Limits()).shifts == {"P2": 5}


def test_crews_hold_down_the_panels_of_a_day():
    """P2 may not join P3, cast on Tue 9, where one crew casts two panels a day and each pour has two."""
    casts = {"P1": date(2027, 3, 3), "P2": date(2027, 3, 3), "P3": date(2027, 3, 9)}
    given = {name: {"panels": 2, "fixed": name != "P2"} for name in casts}
    pieces = [form(6000, 1, (-14, 1)), form(2600, 1, (-14, 9))]
    timeline = timeline_of(casts, pieces, {"P1": [5500], "P2": [5500], "P3": [2500]}, **given)
    bounds = Bounds(date(2027, 2, 26), 0, 5, panels_a_day=9, panels_a_crew=2, crews=1)
    assert move_pours(timeline, bounds, Limits()).shifts == {"P2": 4}
    assert move_pours(timeline, replace(bounds, crews=2), Limits()).shifts == {"P2": 3}


def test_a_given_day_moves_by_as_many_working_days():
    timeline = two_pours(P1={"fixed": True}, P2={"free_given": date(2027, 3, 12)})
    assert timeline.days("P2", 3).free == date(2027, 3, 17)


def test_waiting_for_the_whole_job_is_the_first_start_that_is_covered():
    """One form more comes on day 9, Wed 10 March: both are set then at the soonest, six working days of it."""
    timeline = two_pours()
    more = replace(
        timeline, request=timeline.request.with_stock({"150-6000-1": [(date(2027, 2, 1), 1), (date(2027, 3, 10), 2)]})
    )
    answer = wait(more, 20, Limits())
    spans = {(timeline.days("P1", days).set >= date(2027, 3, 10)): days for days in range(20, 0, -1)}
    assert (answer.days, answer.proved) == (spans[True], True)


def test_a_wait_is_the_least_of_all_waits_tried_one_by_one():
    for seed in range(12):
        timeline = a_job(seed)
        names = [pour.name for pour in timeline.pours]
        by_hand = [
            days
            for days in range(1, 6)
            if (best := best_by_trying_all(timeline.moved(dict.fromkeys(names, days)))) and best[0] == 0
        ]
        answer = wait(timeline, 5, Limits())
        assert answer.proved and answer.days == (by_hand[0] if by_hand else None)


def test_earlier_is_tried_too():
    """A form leaves on Mon 8 March: the pour cast on Tue 9 is set in time if it is cast on Thu 4."""
    timeline = timeline_of({"P1": date(2027, 3, 9)}, [form(6000, 1, (-14, 1), (7, 0))], {"P1": [5500]})
    answer = move_pours(timeline, Bounds(date(2027, 2, 26), earlier=5, later=5), Limits())
    assert answer.shifts is not None and list(answer.shifts) == ["P1"] and answer.shifts["P1"] < 0
    assert timeline.days("P1", answer.shifts["P1"]).free <= date(2027, 3, 8) + timedelta(days=0)
