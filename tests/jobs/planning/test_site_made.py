"""Which closed runs no pieces fit, against trying every row of pieces."""

from __future__ import annotations

from itertools import pairwise, product

from hypothesis import given
from hypothesis import strategies as st

from jobs.planning.outline import rectangle
from jobs.planning.outline_text import parse_outline
from jobs.planning.runs import RunRules, runs_of
from jobs.planning.site_made import FormShape, fits, site_made_runs

from .shapes import L_SHAPE, panel

shapes = st.lists(
    st.builds(FormShape, st.sampled_from([300, 500, 700, 1000, 1500]), st.integers(0, 2)),
    max_size=4,
    unique=True,
)


def closed_runs(length, filler):
    """One that seats at neither end, and one that seats at one."""
    solid = panel("A", outline=rectangle(length, 2000, ["form", "solid", "form", "solid"]))
    notch = panel("B", outline=parse_outline(f"{length + 1000} 2000 {length}@-90 1000 1000 3000"))
    rules = RunRules(filler_mm=filler)
    return runs_of(solid, rules)[0], runs_of(notch, rules)[2]


def by_trying_everything(run, every, most):
    for count in range(1, most + 1):
        for row in product(every, repeat=count):
            if run.least_mm <= sum(one.length_mm for one in row) <= run.greatest_mm and ends_hold(run, row):
                return True
    return False


def ends_hold(run, row):
    """Turn each piece either way round: joints square to square, seating ends splayed."""
    ways = [{(1, 1)} if one.splayed_ends == 2 else {(1, 0), (0, 1)} if one.splayed_ends else {(0, 0)} for one in row]
    for turned in product(*ways):
        joints_square = all(a[1] == 0 == b[0] for a, b in pairwise(turned))
        first, last = turned[0][0], turned[-1][1]
        seated = first + last >= run.seats
        if joints_square and seated:
            return True
    return False


@given(st.integers(4, 40).map(lambda n: n * 100), st.integers(0, 150), shapes, st.integers(1, 4))
def test_it_agrees_with_trying_every_row_of_pieces(length, filler, every, most):
    for run in closed_runs(length, filler):
        assert run.closed
        assert fits(run, every, most) == by_trying_everything(run, every, most)


def test_only_closed_runs_are_site_made():
    runs = runs_of(panel(outline=parse_outline(L_SHAPE)), RunRules(filler_mm=50))
    lengths = {150: [FormShape(2900, 1), FormShape(2900, 0)]}
    assert site_made_runs(runs, lengths, 4) == {"A1/3"}
    assert site_made_runs(runs, {150: [FormShape(3000, 1), FormShape(1000, 0)]}, 4) == frozenset()
