"""One of several stations under the same sky: worked values, limits, drawn cases."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from advisor.reliability.at_least_one import at_least_one_of, read_at_least_one

COUNTS = np.array([1, 3, 10, 30, 100])


@pytest.mark.parametrize(
    ("margin", "sky", "station", "worked"),
    [
        (-10.0, 5.0, 8.0, [0.145, 0.334, 0.625, 0.841, 0.955]),
        (0.0, 5.0, 8.0, [0.500, 0.807, 0.968, 0.996, 1.0]),
        (-15.0, 5.0, 8.0, [0.056, 0.145, 0.340, 0.576, 0.798]),
        (-10.0, 7.0, 9.0, [0.190, 0.399, 0.666, 0.845, 0.944]),
    ],
)
def test_integral_worked_by_another_program(margin, sky, station, worked):
    """There in decibels: a median margin, what is shared, what is not."""
    chance = norm.cdf(margin / np.hypot(sky, station))
    common = sky**2 / (sky**2 + station**2)
    found = at_least_one_of(COUNTS, chance, common)
    assert found == pytest.approx(worked, abs=0.0006)


def test_against_drawn_skies_and_stations():
    dice = np.random.default_rng(8)
    sky = 5.0 * dice.normal(size=(100_000, 1))
    stations = 8.0 * dice.normal(size=(100_000, 10))
    drawn = ((sky + stations - 10.0) > 0.0).any(axis=1).mean()
    chance = norm.cdf(-10.0 / np.sqrt(89.0))
    assert at_least_one_of(10, chance, 25.0 / 89.0) == pytest.approx(drawn, abs=0.005)


@given(
    chance=st.floats(0.0, 1.0),
    common=st.floats(0.0, 0.95),
    count=st.integers(0, 500),
)
def test_more_stations_or_a_better_one_never_lower_it(chance, common, count):
    here = at_least_one_of(count, chance, common)
    assert 0.0 <= here <= 1.0
    assert at_least_one_of(count + 1, chance, common) >= here - 1e-12
    better = min(chance + 0.05, 1.0)
    assert at_least_one_of(count, better, common) >= here - 1e-9
    # No better than if each had a sky of its own.
    assert here <= 1.0 - (1.0 - chance) ** count + 1e-9


@pytest.mark.slow
@given(
    chance=st.floats(0.0, 1.0),
    common=st.floats(0.0, 0.9),
    count=st.sampled_from([2, 10, 100]),
)
def test_read_quickly_it_is_the_same(chance, common, count):
    (quick,) = read_at_least_one(count, np.array([chance]), np.array([common]))
    assert quick == pytest.approx(at_least_one_of(count, chance, common), abs=0.003)
    assert quick >= chance - 1e-9


def test_one_is_itself_and_none_is_nothing():
    chance = np.array([0.0, 0.01, 0.5, 0.99, 1.0])
    assert at_least_one_of(1, chance, 0.4) == pytest.approx(chance, abs=1e-6)
    assert np.all(at_least_one_of(0, chance, 0.4) == 0.0)
