"""The second hand of a search: what goes over the line, that it is optional, and that it never outlives the first."""

from __future__ import annotations

import subprocess
import sys
import time
from dataclasses import replace
from multiprocessing import Pipe

import numpy as np
import pytest

from jobs.planning import beside
from jobs.planning.answer import PROVED_GAP
from jobs.planning.beside import second_hand
from jobs.planning.checker import check_answer
from jobs.planning.cover import check, sections_of
from jobs.planning.limits import Limits
from jobs.planning.line import Line
from jobs.planning.program import program_of
from jobs.planning.standing import CostBound, News, Standing
from jobs.planning.team import Hand
from jobs.planning.trials import Trial, trial_request

SMALL = Trial(6, 2, 0.8, moving=True)


def standing_for(trial: Trial) -> Standing:
    return Standing(program_of(next(iter(sections_of(trial_request(trial))))))


def test_what_is_heard_is_taken_only_if_it_is_a_whole_plan_and_a_better_one():
    mine, theirs = standing_for(SMALL), Hand(list(sections_of(trial_request(SMALL))), "plan", Limits())
    better = theirs.plans()[0]
    assert better is not None
    columns = np.nonzero(better.picks)[0]
    before = mine.plan
    mine.hear(News(plan=(columns[1:], better.picks[columns][1:])))
    assert mine.plan.cost == before.cost
    assert not mine.found
    mine.hear(News(plan=(columns, better.picks[columns])))
    mine.hear(News(short_bound=better.short_bound))
    mine.hear(News(cost_bound=CostBound(better.short, better.cost_bound, 0.0)))
    assert (mine.plan.short, mine.plan.cost) == (better.short, better.cost)
    assert mine.found and not mine.own
    assert mine.plan.good() == better.good()


def test_one_hand_needs_not_search_what_the_other_has_proved():
    """Two hands on one line: once the first is done, the second has its plans and bounds without a turn of its own."""
    sections = list(sections_of(trial_request(Trial(6, 7, 0.8, sections=(150, 175)))))
    (hear_a, tell_b), (hear_b, tell_a) = Pipe(duplex=False), Pipe(duplex=False)
    first = Hand(sections, "plan", Limits(seconds=60.0), Line(hear_a, tell_a))
    second = Hand(sections, "plan", Limits(seconds=60.0), Line(hear_b, tell_b), number=1)
    plans = first.plans()
    second.listen()
    for mine, other in zip(plans, [search and search.plan for search in second.searches], strict=True):
        assert mine is not None and other is not None
        assert (mine.short, mine.short_bound, mine.cost, mine.good()) == (
            other.short,
            other.short_bound,
            other.cost,
            other.good(),
        )


def test_what_the_other_told_before_it_went_is_heard_even_if_it_was_told_something_since():
    """Who has proved all that was asked goes at once, and may be gone before its last plan is taken in."""
    (hear_a, tell_b), (hear_b, tell_a) = Pipe(duplex=False), Pipe(duplex=False)
    mine, other = Line(hear_a, tell_a), Line(hear_b, tell_b)
    other.tell(1, News(short_bound=300.0))
    hear_b.close()
    tell_b.close()
    mine.tell(0, News(short_bound=100.0))
    mine.tell(0, News(short_bound=200.0))
    assert mine.open
    assert list(mine.heard()) == [(1, News(short_bound=300.0))]
    assert not mine.open


def test_a_plan_is_ones_own_until_a_better_one_is_heard_of():
    theirs = Hand(list(sections_of(trial_request(SMALL))), "plan", Limits()).plans()[0]
    assert theirs is not None
    mine, columns = standing_for(SMALL), np.nonzero(theirs.picks)[0]
    mine.offer(theirs.picks)
    assert mine.found and mine.own
    mine.hear(News(plan=(columns, theirs.picks[columns])))
    assert mine.own


def test_what_one_section_lacks_is_asked_of_the_other_if_it_is_little():
    sections = list(sections_of(trial_request(Trial(6, 7, sections=(150, 175)))))
    hand = Hand(sections, "plan", Limits())
    first, second = (search for search in hand.searches if search is not None)
    first.best()
    second.best()
    leeway = second.plan.leeway
    assert first.spare() == leeway >= 0
    best = second.standing.plan
    for share, asked in ((1.0002, True), (1.1, False)):
        second.standing._best = replace(best, cost=round(best.cost_bound * (PROVED_GAP + share)))
        lacking = second.plan.leeway
        assert lacking < 0
        assert first.spare() == (lacking if asked else 0.0)
    assert first.good


@pytest.mark.parametrize(("share", "covered"), [(None, True), (0.3, False)])
def test_asked_for_cover_alone_a_hand_waits_for_no_other_once_that_is_known(share: float | None, covered: bool):
    """A proof either way is the answer; that the gear could be less is not asked."""
    sections = list(sections_of(trial_request(Trial(6, 2, share))))
    (hear, _tell), (_hear, tell) = Pipe(duplex=False), Pipe(duplex=False)
    limits = Limits(seconds=40.0)
    plan = Hand(sections, "covered", limits, Line(hear, tell)).plans()[0]
    assert plan is not None
    assert (plan.short == 0) == covered and (plan.short_bound > 0) != covered
    assert limits.spent() < 20.0


@pytest.fixture
def always_worth_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(beside, "_WORTH_IT", 0)
    monkeypatch.setattr(beside, "_processors", lambda: 2)


@pytest.mark.usefixtures("always_worth_it")
def test_the_second_hand_finds_plans_in_a_process_of_its_own_and_is_gone_afterwards(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
):
    started: list[subprocess.Popen[bytes]] = []
    begin = subprocess.Popen
    monkeypatch.setattr(beside.subprocess, "Popen", lambda *a, **k: started.append(begin(*a, **k)) or started[-1])
    sections = list(sections_of(trial_request(SMALL)))
    mine, until = standing_for(SMALL), time.monotonic() + 60
    with second_hand(sections, "plan", Limits(seconds=60.0)) as line:
        assert line is not None
        while not mine.plan.good() and time.monotonic() < until and line.open:
            for _, news in line.heard():
                mine.hear(news)
    assert mine.plan.good()
    assert started[0].returncode is not None
    assert capfd.readouterr() == ("", "")


def test_the_second_hand_ends_when_nobody_is_left_at_the_other_end():
    started = beside._started()
    assert started is not None
    process, line = started
    line.telling.close()
    assert process.wait(timeout=60) is not None
    line.hearing.close()


@pytest.mark.usefixtures("always_worth_it")
def test_where_no_process_can_be_started_the_answer_still_comes(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    answer = check(trial_request(SMALL), seconds=20)
    assert answer.proved and check_answer(trial_request(SMALL), answer) == []


@pytest.mark.usefixtures("always_worth_it")
def test_by_work_limits_alone_there_is_no_second_hand():
    with second_hand(list(sections_of(trial_request(SMALL))), "plan", Limits()) as line:
        assert line is None
