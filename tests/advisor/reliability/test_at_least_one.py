"""One of several stations under the same sky: worked values, limits, drawn cases."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.reliability.at_least_one import at_least_one_of, at_least_one_on_a_day

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
    found = at_least_one_of(COUNTS, margin, sky, station)
    assert found == pytest.approx(worked, abs=0.0006)


def test_against_drawn_skies_and_stations():
    dice = np.random.default_rng(8)
    sky = 5.0 * dice.normal(size=(100_000, 1))
    stations = 8.0 * dice.normal(size=(100_000, 10))
    drawn = ((sky + stations - 10.0) > 0.0).any(axis=1).mean()
    assert at_least_one_of(10, -10.0, 5.0, 8.0) == pytest.approx(drawn, abs=0.005)


@given(
    margin=st.floats(-40.0, 40.0),
    sky=st.floats(0.0, 12.0),
    station=st.floats(1.0, 15.0),
    count=st.integers(0, 500),
)
def test_more_stations_or_more_signal_never_lower_it(margin, sky, station, count):
    here = at_least_one_of(count, margin, sky, station)
    assert 0.0 <= here <= 1.0
    assert at_least_one_of(count + 1, margin, sky, station) >= here - 1e-12
    assert at_least_one_of(count, margin + 1.0, sky, station) >= here - 1e-12
    # Stations apart are no worse than the same sky for all would have it, and no better
    # than if each had a sky of its own.
    one = at_least_one_of(1, margin, sky, station)
    assert here <= 1.0 - (1.0 - one) ** count + 1e-9


def test_none_is_nothing_and_classes_multiply():
    assert at_least_one_of(0, 20.0, 5.0, 8.0) == 0.0
    assert at_least_one_on_a_day([0.3], [0]) == 0.0
    assert at_least_one_on_a_day([0.3, 1.0], [1, 1]) == 1.0
    assert at_least_one_on_a_day([0.3, 0.2], [1, 2]) == pytest.approx(
        1.0 - 0.7 * 0.8**2
    )
