"""Wilson intervals, cost per use and per year, utilisation and queues, against published values."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.figures import cost, queueing, rates, utilisation

D = Decimal


# R. G. Newcombe, Statistics in Medicine 17 (1998) 857-872, Table I, method 3 (values from memory; checked with
# statsmodels' proportion_confint, method "wilson").
@pytest.mark.parametrize(
    ("hits", "tries", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_published_wilson_intervals(hits, tries, low, high):
    found = rates.wilson(hits, tries)
    assert (round(found.low, 4), round(found.high, 4)) == (low, high)


@given(st.integers(0, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_share_lies_within_its_band(drawn):
    found = rates.wilson(*drawn)
    assert 0 <= found.low <= found.share <= found.high <= 1


def test_few_uses_are_too_few():
    assert rates.wilson(1, 29).too_few and not rates.wilson(1, 30).too_few


# Engineering-economy texts: P 1000, S 200, 7 %, 10 years, 127.92 by table factors (exact 127.90); P 50,000, S 5,000,
# 10 %, 5 years, 12,371; P 20,000, S 5,000, running 8,500, 15 %, 3 years, 15,820; P 15,000, S 3,000, 7,000, 2 years,
# 14,831.2 by table factors.
@pytest.mark.parametrize(
    ("price", "salvage", "rate", "years", "running", "published", "within"),
    [
        (1000, 200, "0.07", 10, 0, "127.92", "0.03"),
        (50_000, 5_000, "0.10", 5, 0, "12371", "0.5"),
        (20_000, 5_000, "0.15", 3, 8_500, "15820", "1"),
        (15_000, 3_000, "0.15", 2, 7_000, "14831.2", "1"),
    ],
)
def test_published_equivalent_annual_costs(price, salvage, rate, years, running, published, within):
    found = cost.yearly(D(price), D(salvage), D(rate), years, D(running))
    assert abs(found - D(published)) <= D(within)


def test_without_interest_the_price_is_spread_evenly():
    assert cost.yearly(D(1000), D(0), D(0), 4) == D(250)


def test_cost_a_use_counts_cleaning_mending_and_what_came_back():
    # common practice, no source: (price - salvage) / uses + cleaning + mending a use
    assert cost.per_use(cost.Spent(D(80), D(0), D(50), D(8)), 100) == D("1.22")
    assert cost.per_use(cost.Spent(D(80)), 0) is None


def test_mending_is_weighed_against_buying_by_the_uses_each_gives():
    choice = cost.mend_or_replace(D(30), D(10), 40, D(200), 100)
    assert (choice.mend_per_use, choice.replace_per_use) == (D(1), D(2))
    assert choice.words == "mending is cheaper a use"
    assert cost.mend_or_replace(D(30), D(10), None, D(200), 100).words == "too little is known to say"


def test_parts_take_their_cost_by_length_and_the_offcut_keeps_its_share():
    shares = cost.shared_by_length(D("100.00"), 6000, [2000, 3000])
    assert shares == [D("33.33"), D("50.00")]
    with pytest.raises(ValueError, match="longer"):
        cost.shared_by_length(D(100), 6000, [4000, 3000])


# J. McClelland (American Rental Association) on the Rental Market Metrics of 2011: OEC-weighted days; arithmetic ours.
def test_time_utilisation_is_weighted_by_original_cost():
    used = utilisation.time_utilisation([utilisation.Days(D(1000), 20, 30), utilisation.Days(D(3000), 5, 30)])
    assert (used.out, used.owned) == (D(35_000), D(120_000))
    assert round(used.share * 100, 2) == D("29.17")


def test_financial_utilisation_is_a_year_of_hire_over_original_cost():
    assert utilisation.financial_utilisation(D(500), 365 // 12, D(4000)) == D(500) * 365 / 30 / D(4000)
    assert utilisation.financial_utilisation(D(6000), 365, D(4000)) == D("1.5")


def test_days_of_a_stay_within_a_period_are_half_open():
    assert utilisation.overlap(date(2026, 1, 30), date(2026, 2, 3), date(2026, 2, 1), date(2026, 3, 1)) == 2


# S. C. Graves and J. D. C. Little, Little's Law, in Building Intuition (Springer 2008) ch. 5: 160 bottles in the
# cellar, 96 drunk a year, each is kept 1.67 years.
def test_littles_cellar():
    assert round(queueing.wait(160, 96, 1).days, 2) == 1.67


def test_what_waits_takes_as_long_as_the_measured_pace_says():
    assert queueing.wait(120, 400, 10) == queueing.Wait(120, 40.0, 3.0)
    assert queueing.wait(5, 0, 10).days is None


START = datetime(2026, 3, 2, tzinfo=UTC)
visits = st.lists(
    st.tuples(st.integers(0, 200), st.integers(1, 60)).map(
        lambda v: (START + timedelta(hours=v[0]), START + timedelta(hours=v[0] + v[1]))
    ),
    min_size=1,
    max_size=30,
)


@given(visits)
def test_littles_law_holds_exactly_over_a_record_that_begins_and_ends_empty(drawn):
    found = queueing.check(drawn, START, START + timedelta(hours=300))
    assert found.off < 1e-9
    assert found.left == len(drawn) and found.words in ("it holds", "too few to say")


@given(visits, st.integers(0, 4))
def test_who_waits_throughout_may_be_given_as_a_number(drawn, waiting):
    first, until = START + timedelta(hours=20), START + timedelta(hours=120)
    all_along = [(START - timedelta(hours=1), None)] * waiting
    found, told = (
        queueing.check(*each) for each in ((drawn, first, until, waiting), (drawn + all_along, first, until))
    )
    assert found.present == pytest.approx(told.present) and found.product == told.product and found.left == told.left


def test_a_queue_that_only_grows_does_not_keep_the_law():
    """Two come a day and nearly none is cleaned: 20 of 60 leave at once, the rest stay."""
    grown = [
        (START + timedelta(hours=12 * n), START + timedelta(hours=12 * n + 1) if n % 3 == 0 else None)
        for n in range(60)
    ]
    found = queueing.check(grown, START, START + timedelta(days=30))
    assert found.left == 20 and found.off > 0.9 and "not steady" in found.words


def test_cost_of_a_use_over_a_life_worked_by_hand():
    """(80 - 8) / 100 and 0.50 to keep it fit: 1.22 (straight line; common practice, no source)."""
    look = cost.Outlook(D(80), D(8), 100.0, True, D("0.5"), 20.0)
    assert look.per_use == D("1.22") and look.years == 5 and look.running == D("10.0")
    assert cost.cents(look.a_year_at(D(0))) == D("24.40")  # 72 over 5 years, 10 a year to keep
    assert cost.Outlook(D(80), D(8), None, False, D("0.5"), 20.0).per_use is None
