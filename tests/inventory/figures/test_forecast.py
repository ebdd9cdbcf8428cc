"""The forecast of fit pieces, held to simulated fleets whose truth is known."""

import pytest

from inventory.figures.forecast import Exposure, Forecast, Use, exposures, forecast, to_buy
from inventory.figures.survival import Span
from tests.inventory.figures.fleets import back_test


def test_casts_and_ends_fall_into_bands_of_uses():
    spans = {Span(0, 25, True): 30, Span(5, 12, False): 10}
    assert exposures(spans) == [
        Exposure(0, 10, 30 * 10 + 10 * 5, 0),
        Exposure(10, 30, 30 * 15 + 10 * 2, 30),
    ]


def test_losses_end_service_too():
    assert sum(band.ends for band in exposures({Span(0, 300, False): 1}, {Span(0, 200, True): 2})) == 2


def test_without_wear_everything_stays_fit():
    bands = [Exposure(0, 10, 100_000, 0)]
    (ahead,) = forecast({3: 50}, bands, Use(1000, 1000.0), [6], seed=1)
    assert (ahead.low, ahead.high) == (49, 50) or ahead.low == 50


def test_the_mean_follows_the_hazard():
    """1 % a cast, 10 casts: exp(-0.1) of 1,000 is 905."""
    bands = [Exposure(0, 10, 1_000_000, 10_000)]
    (ahead,) = forecast({0: 1000}, bands, Use(1_000_000, 100_000.0), [1], seed=1)
    assert ahead.mean == pytest.approx(905, abs=2)


def test_a_planned_month_goes_before_the_measured_rate():
    bands = [Exposure(0, 10, 1_000_000, 10_000)]
    idle, busy = (
        forecast({0: 1000}, bands, Use(1_000_000, 100_000.0, planned), [1], seed=1)[0].mean
        for planned in ((0,), (20_000,))
    )
    assert idle == 1000 and busy == pytest.approx(819, abs=3)


def test_too_little_seen_is_no_forecast():
    assert forecast({0: 10}, [Exposure(0, 10, 99, 1)], Use(99, 10.0), [3], seed=1) == []


def test_the_same_seed_says_the_same():
    bands = [Exposure(0, 10, 500, 5)]
    assert forecast({0: 40}, bands, Use(500, 100.0), [3, 6], 7) == forecast({0: 40}, bands, Use(500, 100.0), [3, 6], 7)


def test_what_to_buy_meets_the_low_end():
    ahead = [Forecast(3, 101.0, 97, 103), Forecast(6, 97.5, 92, 101)]
    assert to_buy(100, 104, ahead) == (8, 6)
    assert to_buy(90, 104, ahead) is None
    assert to_buy(110, 104, ahead) == (18, 0)
    assert to_buy(10, 4, []) is None


def test_the_band_holds_the_truth_on_simulated_fleets():
    """40 here; `python -m tests.bench forecast` runs the 200 whose share is stated."""
    held, tried = back_test(range(40))
    assert tried >= 35 and held / tried >= 0.85
