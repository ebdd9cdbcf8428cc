"""The product-limit estimate, against lifelines and the published remission times."""

import warnings

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from inventory.figures.survival import Span, kaplan_meier

# E. J. Freireich et al., Blood 21 (1963) 699-716, the treated arm; also lifelines.datasets.load_leukemia, Rx == 0.
# Estimates and Greenwood errors as printed in D. G. Kleinbaum and M. Klein, Survival Analysis (from memory).
ENDED = [6, 6, 6, 7, 10, 13, 16, 22, 23]
STILL_ON = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
PUBLISHED = {
    6: (0.8571, 0.0764),
    7: (0.8067, 0.0869),
    10: (0.7529, 0.0963),
    13: (0.6902, 0.1068),
    16: (0.6275, 0.1141),
    22: (0.5378, 0.1282),
    23: (0.4482, 0.1346),
}


@pytest.fixture
def leukemia():
    return kaplan_meier([Span(0, t, True) for t in ENDED] + [Span(0, t, False) for t in STILL_ON])


def test_the_published_estimates_and_errors(leukemia):
    found = {step.uses: (round(step.share, 4), round(step.error, 4)) for step in leukemia.steps}
    assert found == PUBLISHED


def test_the_published_median(leukemia):
    assert leukemia.median == 23


def test_pieces_and_ends_are_counted(leukemia):
    assert (leukemia.pieces, leukemia.ends) == (21, 9)


spans = st.lists(
    st.tuples(st.integers(0, 12), st.integers(1, 20), st.booleans()).map(lambda s: Span(s[0], s[0] + s[1], s[2])),
    min_size=1,
    max_size=40,
)


@settings(max_examples=12, deadline=None)
@given(spans)
def test_lifelines_agrees_with_late_entries_and_censoring(drawn):
    from lifelines import KaplanMeierFitter
    from lifelines.exceptions import StatError

    entry, exit_, ended = zip(*drawn, strict=True)
    fitter = KaplanMeierFitter(alpha=0.05)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            fitter.fit(exit_, ended, entry=entry)
        except StatError:
            assume(False)  # it declines where at some early time nobody is at risk
        theirs, band = fitter.survival_function_.iloc[:, 0], fitter.confidence_interval_
    for step in kaplan_meier(drawn).steps:
        assert step.share == pytest.approx(theirs[step.uses], abs=1e-9)
        if 0 < step.share < 1:
            assert step.low == pytest.approx(band.iloc[:, 0][step.uses], abs=1e-6)
            assert step.high == pytest.approx(band.iloc[:, 1][step.uses], abs=1e-6)
        if step.share == 0:
            break  # nobody is left to outlive anything; lifelines and we differ in how they say so


def test_counts_of_like_spans_give_the_same():
    assert kaplan_meier({Span(0, 5, True): 3, Span(2, 9, False): 2}) == kaplan_meier(
        [Span(0, 5, True)] * 3 + [Span(2, 9, False)] * 2
    )


def test_a_recut_part_is_at_risk_only_from_the_uses_it_came_with():
    curve = kaplan_meier([Span(0, 5, True), Span(0, 30, False), Span(10, 20, True)])
    assert [(step.uses, step.at_risk) for step in curve.steps] == [(5, 2), (20, 2)]


def test_an_end_before_the_first_use_is_still_an_end():
    curve = kaplan_meier([Span(0, 0, True), Span(0, 4, False)])
    assert (curve.pieces, curve.ends) == (2, 1)
    assert [(step.uses, step.at_risk, step.ends) for step in curve.steps] == [(0, 2, 1)]


def test_too_few_ends_are_said_to_be_too_few():
    assert kaplan_meier([Span(0, 5, True)] * 9).too_few
    assert not kaplan_meier([Span(0, 5, True)] * 10).too_few
