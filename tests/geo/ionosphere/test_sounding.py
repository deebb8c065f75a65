"""What a sounding says about the layer elsewhere and later."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo.ionosphere.sounding import (
    CORRELATION_HOURS,
    CORRELATION_KM,
    LEAST_SPREAD,
    READING_VARIANCE,
    carried_over,
    correlation,
    hours_between,
)
from geo.sphere import destination

NOON = np.datetime64("2026-12-05T12:00", "s")
HERE = (50.0, 10.0)


def later(hours):
    """Moments some hours after noon."""
    return NOON + np.round(3600.0 * np.atleast_1d(hours)).astype("timedelta64[s]")


def one(lat, lon, times, ratio):
    """Carry over one sounding at noon."""
    return carried_over(lat, lon, times, *HERE, NOON, ratio)


def test_at_the_sounding_the_layer_is_as_sounded():
    """All but the reading error: 1.3 becomes 1.293."""
    factor, spread = one(*HERE, NOON, 1.3)
    assert factor.item() == pytest.approx(1.3 ** (1.0 / (1.0 + READING_VARIANCE)))
    assert factor.item() == pytest.approx(1.3, rel=0.006)
    assert spread.item() == LEAST_SPREAD


def test_far_away_and_the_next_day_nothing_is_known():
    factor, spread = one([-50.0, *HERE[:1]], [-170.0, *HERE[1:]], later(30.0), 1.5)
    assert factor == pytest.approx(1.0, abs=1e-4)
    assert spread == pytest.approx(1.0, abs=1e-6)


def test_a_sounding_that_equals_the_map_moves_nothing():
    """The factor is 1 to the last bit; only what is uncertain shrinks."""
    lat = np.array([-50.0, 0.0, 45.0, 50.0])
    factor, spread = one(lat, np.full(4, 10.0), later([0.0, 1.0]), 1.0)
    assert np.all(factor == 1.0)
    assert np.all(spread <= 1.0)
    assert spread.min() < 0.8


def test_weight_falls_to_1_over_e_over_both_scales():
    along = np.array([0.0, CORRELATION_KM, 2.0 * CORRELATION_KM])
    lat, lon = destination(*HERE, 90.0, along)
    factor, _ = one(lat, lon, later([0.0, CORRELATION_HOURS]), 1.3)
    logs = np.log(factor) / np.log(factor[0, 0])
    assert logs[0] == pytest.approx(np.exp([0.0, -1.0, -2.0]), rel=1e-6)
    assert logs[1] == pytest.approx(np.exp([-1.0, -2.0, -3.0]), rel=1e-6)


def test_nothing_jumps_in_distance_or_time():
    """Steps of 10 km and 2 minutes: under 1 % of the factor, 3 % of the spread."""
    lat, lon = destination(*HERE, 45.0, np.arange(0.0, 6000.0, 10.0))
    factor, spread = one(lat, lon, later(np.arange(-6.0, 6.0, 1.0 / 30.0)), 1.5)
    for values, step in ((factor, 0.011), (spread, 0.03)):
        assert np.abs(np.diff(values, axis=0)).max() < step
        assert np.abs(np.diff(values, axis=1)).max() < step


def test_further_is_never_nearer_to_the_sounding():
    lat, lon = destination(*HERE, 200.0, np.linspace(0.0, 15000.0, 60))
    factor, spread = one(lat, lon, later([-5.0, 0.0, 2.0]), 0.7)
    assert np.all(np.diff(factor, axis=1) > 0.0)
    assert np.all(np.diff(spread, axis=1) >= 0.0)


def test_two_soundings_side_by_side_count_as_one():
    """The mean of two, with hardly less spread than one."""
    lat, lon = [50.0, 50.0], [10.0, 10.01]
    both, spread = carried_over(48.0, 14.0, NOON, lat, lon, [NOON, NOON], [1.2, 1.3])
    single, alone = one(48.0, 14.0, NOON, np.sqrt(1.2 * 1.3))
    assert both.item() == pytest.approx(single.item(), rel=0.003)
    assert spread.item() == pytest.approx(alone.item(), rel=0.02)


@given(
    ratios=st.lists(st.floats(0.4, 2.5), min_size=1, max_size=5),
    seed=st.integers(0, 10_000),
)
def test_any_soundings_give_sane_factors(ratios, seed):
    """Never beyond the greatest departure by more than a little, never NaN."""
    rng = np.random.default_rng(seed)
    lat, lon = rng.uniform(-60, 60, len(ratios)), rng.uniform(-180, 180, len(ratios))
    times = later(rng.uniform(-3, 3, len(ratios)))
    factor, spread = carried_over(
        rng.uniform(-90, 90, 40), rng.uniform(-180, 180, 40), later([0, 5]),
        lat, lon, times, ratios,
    )  # fmt: skip
    most = np.abs(np.log(ratios)).max()
    assert np.all(np.abs(np.log(factor)) <= 1.2 * most + 1e-12)
    assert np.all((spread >= LEAST_SPREAD) & (spread <= 1.0))


def test_correlation_is_one_at_home_and_even_in_time():
    assert correlation(0.0, 0.0) == 1.0
    assert correlation(500.0, -2.0) == correlation(500.0, 2.0)
    assert hours_between(later(1.5), NOON).item() == pytest.approx(1.5)
