"""Limits of the long-path window: by hand, at their ends, and over a day."""

import numpy as np
import pytest

from advisor.propagation.longpath_limits import (
    crossing_distances_km,
    evening_decay,
    lower_limit_mhz,
    night_limit_mhz,
    reference_muf_mhz,
    seasonal_factor,
    upper_limit_mhz,
    winter_anomaly,
)
from geo.ionosphere.hops import hop_length_km, takeoff_angle_deg


def test_upper_limit_is_straight_in_the_bearing_and_the_same_both_ways():
    bearing = np.array([0.0, 30.0, 45.0, 90.0, 150.0, 180.0, 270.0])
    limit = upper_limit_mhz(15.0, 22.0, 9.0, bearing)
    assert limit[[0, 3]] == pytest.approx([limit[5], limit[6]])
    assert limit[1] == pytest.approx(limit[4])
    assert limit[2] == pytest.approx(0.5 * (limit[0] + limit[3]))


def test_upper_limit_grows_with_the_layer_and_is_nan_without_one():
    muf = np.linspace(4.0, 24.0, 50)
    assert np.all(np.diff(upper_limit_mhz(muf, 24.0, 4.0, 90.0)) > 0.0)
    assert np.isnan(upper_limit_mhz(0.0, 20.0, 5.0, 90.0))
    assert np.isnan(upper_limit_mhz(10.0, 0.0, 5.0, 90.0))


def test_reference_muf_is_a_tenth_above_that_of_3000_km():
    assert reference_muf_mhz(10.0, 3.0) == pytest.approx(33.0)


def test_crossings_are_where_the_ray_is_at_90_km():
    along = crossing_distances_km([3500.0, 9000.0, 20000.0])
    assert along.shape == (3, 10)
    assert np.isnan(along).sum(axis=-1).tolist() == [8, 4, 0]
    # A ray at 90 km has come as far as half a hop off a mirror at 90 km would be.
    takeoff = takeoff_angle_deg(3500.0, 300.0)
    assert along[0, 0] == pytest.approx(0.5 * hop_length_km(takeoff, 90.0))
    assert along[0, 0] + along[0, 1] == pytest.approx(3500.0)
    assert np.all(np.diff(along[2]) > 0.0)
    assert along[2, -1] < 20000.0


def test_lower_limit_by_hand():
    """One whole evaluation of the printed formula, worked with a pocket calculator."""
    # 12000 km, three hops of 4000 km at 300 km: half angle 17.987 deg,
    # rise cos - 6371/6671 = 0.95113 - 0.95503 = -0.00390; take-off -0.724 deg
    # sin i90 = 6371 cos(0.724 deg)/6461 = 0.98599, cos i90 = 0.16681
    # leg: sqrt(300^2 + 4*6371*6671*sin^2(8.9935 deg)) = 2059.9; p' = 12359.6
    # ln(9.5e6/12359.6) = 6.6445
    # six crossings at 60 deg: 6 * 0.70711 = 4.24264; (1 + 0.54) = 1.54
    # sqrt(1.54 * 4.24264 / (0.16681 * 6.6445)) = 2.42792; * 5.3 = 12.868; - 1.2
    limit = lower_limit_mhz([60.0] * 6, 12000.0, 60.0, 1.2, 1.0, 1.0)
    assert limit == pytest.approx(11.668, abs=0.02)
    winter = lower_limit_mhz([60.0] * 6, 12000.0, 60.0, 1.2, 1.1, 1.3)
    assert winter == pytest.approx((12.868 * 1.1 - 1.2) * 1.3, abs=0.03)


def test_lower_limit_has_the_night_floor():
    night = lower_limit_mhz([120.0] * 6, 12000.0, 60.0, 1.2, 1.0, 1.3)
    assert night == night_limit_mhz(12000.0) == pytest.approx(2.0)
    zenith = np.linspace(0.0, 180.0, 200)[:, None] * np.ones(6)
    limit = lower_limit_mhz(zenith, 12000.0, 60.0, 1.2, 1.0, 1.0)
    assert np.all(np.diff(limit) <= 1e-12)
    assert limit.min() == pytest.approx(2.0)


def test_missing_crossings_add_nothing():
    some = lower_limit_mhz([30.0, 60.0], 4000.0, 60.0, 1.2, 1.0, 1.0)
    padded = lower_limit_mhz([30.0, 60.0, np.nan, np.nan], 4000.0, 60.0, 1.2, 1.0, 1.0)
    assert padded == pytest.approx(float(some))


def test_evening_decay_never_lowers_and_ends_after_three_hours():
    hours = np.arange(48) / 2.0
    raw = np.maximum(10.0 * np.cos((hours - 12.0) / 12.0 * np.pi), 2.0)
    out = evening_decay(raw, 12000.0)
    assert np.all(out >= raw)
    lifted = np.flatnonzero(out > raw + 1e-12)
    # 10 cos reaches 4 at 12 + 12/pi * acos(0.4) = 16.43 h and 2 at 17.23 h.
    assert hours[lifted].min() == 16.5
    assert hours[lifted].max() == 19.0
    since = 19.0 - (12.0 + 12.0 / np.pi * np.arccos(0.4))
    assert out[38] == pytest.approx(4.0 * np.exp(-0.23 * since), rel=0.01)


def test_evening_decay_goes_round_midnight():
    raw = np.full((24, 2), 2.0)
    raw[12:23, 0] = 8.0
    raw[12:24, 1] = 8.0
    out = evening_decay(raw, np.array([12000.0, 12000.0]))
    assert out[23, 0] > 2.0
    assert out[1, 0] == pytest.approx(out[2, 1])
    assert out[0, 1] == pytest.approx(out[23, 0])


def test_steady_day_has_no_evening():
    raw = np.full(24, 5.0)
    assert evening_decay(raw, 12000.0) == pytest.approx(raw)


def test_seasonal_factor_by_classes_of_latitude():
    winter = seasonal_factor(
        [50.0, 50.0, 10.0, -40.0, 50.0], [60, 20, -20, -50, -50], 1
    )
    assert winter == pytest.approx([1.1, 1.05, 1.0, 1.0, 1.05])
    july = seasonal_factor([50.0, 50.0, 10.0, -40.0, 50.0], [60, 20, -20, -50, -50], 7)
    assert july == pytest.approx([1.0, 1.0, 1.0, 1.1, 1.05])
    assert seasonal_factor(50.0, 60.0, 2.0) == pytest.approx(1.05)


def test_winter_anomaly_peaks_at_60_degrees_and_ends_at_30_and_at_the_pole():
    assert winter_anomaly([0.0, 30.0, 60.0, 90.0], 1.0) == pytest.approx([1, 1, 1.3, 1])
    assert winter_anomaly(-60.0, [1.0, 4.0, 6.0, 7.0, 8.0]) == pytest.approx(
        [1.0, 1.03, 1.3, 1.3, 1.15]
    )
