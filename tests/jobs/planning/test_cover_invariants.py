"""What must hold between answers, whatever the request: hypothesis looks for a request in which it does not."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.planning.checker import check_answer
from jobs.planning.cover import check
from jobs.planning.one_by_one import compose_one_by_one, gear_cost, greatest_use
from jobs.planning.request import CoverRequest, PieceType, Run
from tests.jobs.planning.cover_samples import asked, day, form, run

LENGTHS = st.sampled_from(range(1000, 6001, 500))


@st.composite
def piece_types(draw: st.DrawFn) -> PieceType:
    steps = draw(st.dictionaries(st.integers(0, 8), st.integers(0, 6), max_size=3))
    return form(draw(LENGTHS), draw(st.sampled_from([0, 1, 1, 2])), *(sorted(steps.items()) or [(0, 0)]))


@st.composite
def runs(draw: st.DrawFn) -> Run:
    start = draw(st.integers(0, 8))
    length = draw(st.integers(10, 80)) * 100
    return run(length, start, start + draw(st.integers(1, 5)), seats=draw(st.sampled_from([0, 1, 1, 2])))


@st.composite
def requests(draw: st.DrawFn) -> CoverRequest:
    pieces = draw(st.lists(piece_types(), min_size=1, max_size=5, unique_by=lambda piece: piece.code))
    return asked(pieces, draw(st.lists(runs(), min_size=1, max_size=10)))


FEW = settings(max_examples=40, deadline=None)


@FEW
@given(requests())
def test_every_answer_passes_the_independent_checker(request: CoverRequest):
    answer = check(request)
    assert check_answer(request, answer) == []
    assert answer.covered == (answer.short_mm == 0 and not answer.impossible)


@FEW
@given(requests(), st.data())
def test_more_stock_never_gives_more_shortage(request: CoverRequest, data: st.DataObject):
    at = data.draw(st.integers(0, len(request.pieces) - 1))
    piece = request.pieces[at]
    more = replace(piece, on_hand=tuple((since, count + 1) for since, count in piece.on_hand))
    pieces = (*request.pieces[:at], more, *request.pieces[at + 1 :])
    assert check(replace(request, pieces=pieces)).short_bound_mm <= check(request).short_mm


@FEW
@given(requests(), st.data())
def test_a_later_return_never_gives_less_shortage(request: CoverRequest, data: st.DataObject):
    at = data.draw(st.integers(0, len(request.runs) - 1))
    later = replace(request.runs[at], until=request.runs[at].until + timedelta(days=data.draw(st.integers(1, 3))))
    kept_longer = replace(request, runs=(*request.runs[:at], later, *request.runs[at + 1 :]))
    assert check(kept_longer).short_mm >= check(request).short_bound_mm


@FEW
@given(requests(), st.data())
def test_with_ample_stock_all_together_never_cost_more_than_the_parts(request: CoverRequest, data: st.DataObject):
    ample = replace(request, pieces=tuple(replace(piece, on_hand=((day(0), 1000),)) for piece in request.pieces))
    cut = data.draw(st.integers(0, len(request.runs)))
    parts = [check(replace(ample, runs=part)) for part in (request.runs[:cut], request.runs[cut:])]
    assert check(ample).cost_bound_mm <= sum(part.cost_mm for part in parts)


@FEW
@given(requests())
def test_it_never_takes_more_gear_than_runs_composed_one_by_one_where_that_is_as_short(request: CoverRequest):
    ample = replace(request, pieces=tuple(replace(piece, on_hand=((day(0), 1000),)) for piece in request.pieces))
    alone = compose_one_by_one(ample)
    assert check(ample).cost_bound_mm <= gear_cost(ample, alone, greatest_use(ample, alone))


@FEW
@given(requests())
def test_the_order_of_runs_and_pieces_does_not_change_what_is_proved(request: CoverRequest):
    turned = replace(request, runs=request.runs[::-1], pieces=request.pieces[::-1])
    first, second = check(request), check(turned)
    assert first.short_mm == second.short_mm
    assert first.cost_bound_mm <= second.cost_mm
    assert second.cost_bound_mm <= first.cost_mm
