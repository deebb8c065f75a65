"""Losses of a hop: limits, and how they go with sun, angle and number of hops."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.propagation.losses import (
    ABSORPTION_HEIGHT_KM,
    RESIDUAL_LOSS_DB,
    absorption_db,
    absorption_index,
    reflection_loss_db,
    spreading_db,
)


def test_the_index_is_one_under_an_overhead_sun_without_spots():
    """By definition, and the least of it is a tenth."""
    assert absorption_index(0.0, 0.0) == pytest.approx(1.0, abs=1e-12)
    assert absorption_index(0.0, 100.0) == pytest.approx(1.37, abs=1e-12)
    assert absorption_index(180.0, 0.0) == pytest.approx(0.1, abs=1e-12)


@given(st.floats(0.0, 180.0), st.floats(0.0, 250.0))
def test_a_lower_sun_or_fewer_spots_never_absorb_more(zenith, spots):
    here = absorption_index(zenith, spots)
    assert absorption_index(np.minimum(zenith + 1.0, 180.0), spots) <= here
    assert absorption_index(zenith, spots + 10.0) >= here
    assert here >= 0.1


@given(st.floats(1.8, 54.0), st.integers(1, 8), st.floats(0.0, 90.0))
def test_hops_add_up_and_the_strength_of_the_region_multiplies(mhz, hops, angle):
    one = absorption_db(mhz, angle, 1, 1.0, 1.2)
    assert absorption_db(mhz, angle, hops, 1.0, 1.2) == pytest.approx(hops * one)
    assert absorption_db(mhz, angle, 1, 0.3, 1.2) == pytest.approx(0.3 * one)
    assert absorption_db(2.0 * mhz, angle, 1, 1.0, 1.2) < one


def test_ten_times_as_far_or_as_high_loses_twenty_decibels():
    """Spreading goes with the squares of distance and frequency (ITU-R P.525)."""
    near = spreading_db(3.6, 100.0)
    assert spreading_db(3.6, 1000.0) - near == pytest.approx(20.0)
    assert spreading_db(36.0, 100.0) - near == pytest.approx(20.0)


def test_the_ground_never_gives_power_back():
    """A reflection loses power at any angle, on any band, over land and sea."""
    angle = np.linspace(0.0, 90.0, 91)[:, None]
    for ground in ("land", "sea water"):
        lost = reflection_loss_db([1.85, 7.1, 28.5], angle, ground)
        assert np.all(lost >= -1e-9)
        assert np.all(lost[1:] > 0.0)


def test_constants_of_the_standard():
    """ITU-R P.533-14 section 5.2 (from memory): Lz, and rays taken at 100 km."""
    assert RESIDUAL_LOSS_DB == 8.72
    assert ABSORPTION_HEIGHT_KM == 100.0
