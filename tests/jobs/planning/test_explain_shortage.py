"""The reason given for a shortage, worked by hand."""

from __future__ import annotations

from dataclasses import replace

from jobs.planning.cover import check
from jobs.planning.explain import SharedDays, ShortDay, reasons_short
from tests.jobs.planning.cover_samples import asked, day, form, run


def test_a_day_with_too_many_runs_at_once_is_named_with_how_many_can_be_made():
    """Five runs of 5.6 m and three forms of 6 m: three can be made; from two of 3 m joined, one more."""
    pieces = [form(6000, 1, (0, 3)), form(3000, 1, (0, 2))]
    request = asked(pieces, [run(5500, 0, 3) for _ in range(3)] + [run(5500, 1, 4) for _ in range(2)])
    reasons = reasons_short(request, check(request))
    assert reasons == (ShortDay(150, day(1), 5, 4, 5 * 6000, 3 * 6000 + 2 * 3000),)


def test_material_enough_is_no_proof_that_runs_can_be_made():
    """Three forms of 4 m are 12 m, but no two runs of 6 m come of them: each takes two."""
    request = asked([form(4000, 1, (0, 3))], [run(5500), run(5500)], replace(asked([], []).rules, max_overrun_mm=2500))
    (reason,) = reasons_short(request, check(request))
    assert isinstance(reason, ShortDay)
    assert (reason.wanted, reason.can_make, reason.on_hand_mm) == (2, 1, 12000)


def test_days_that_share_gear_are_named_together_where_each_alone_could_be_met():
    """One 6 m form; on day 0 two 3 m forms too, on day 2 two of 3.2 m: two
    runs can be made on either day, but the second run would have to be taken apart in between."""
    pieces = [form(6000, 1, (0, 1)), form(3000, 1, (0, 2), (2, 0)), form(3200, 1, (2, 2))]
    request = asked(pieces, [run(5500, 0, 4), run(5500, 0, 4)])
    answer = check(request)
    (reason,) = reasons_short(request, answer)
    assert isinstance(reason, SharedDays)
    assert 0 < reason.short_mm <= answer.short_mm
    assert set(reason.days) <= {day(0), day(2)}


def test_what_is_covered_needs_no_reason():
    request = asked([form(6000)], [run(5500)])
    assert reasons_short(request, check(request)) == ()


def test_runs_that_have_different_numbers_of_choices_are_told_apart():
    """A run of 5.5 m has more choices than one of 2.6 m: both are counted, each once."""
    pieces = [form(6000, 1, (0, 1)), form(3000, 1, (0, 1)), form(2800, 0, (0, 0))]
    request = asked(pieces, [run(2600), run(5500), run(5600)])
    (reason,) = reasons_short(request, check(request))
    assert isinstance(reason, ShortDay) and (reason.wanted, reason.can_make) == (3, 2)


def test_pieces_are_whole_and_every_day_that_falls_behind_is_named():
    """A run of 6 m takes any two of three forms of about 3 m, one of 9 m two of three of about 4.5 m: one of each can
    be made. In parts it would be one and a half of each, three in all. On day 4 two of 6 m are wanted, one is made."""
    pieces = [form(length, 1, (0, 1)) for length in (3000, 3010, 3020, 4500, 4510, 4520)]
    rules = replace(asked([], []).rules, max_pieces_per_run=2, max_overrun_mm=150)
    both = [run(5900, 0, 3), run(5900, 1, 2), run(8900, 0, 3), run(8900, 1, 2), run(5900, 4, 5), run(5900, 4, 5)]
    (reason,) = reasons_short(request := asked(pieces, both, rules), check(request))
    assert isinstance(reason, ShortDay)
    assert (reason.day, reason.wanted, reason.can_make) == (day(1), 4, 2)
    assert [(each.day, each.wanted, each.can_make) for each in reason.also] == [(day(4), 2, 1)]
